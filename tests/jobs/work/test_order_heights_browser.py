"""The demo's work orders on a phone: short, and nothing is wider than the screen."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from jobs.models import WorkOrder
from jobs.services.work import work_order_accept
from shopdiag.people.core.roles import Role
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = ((390, 844), (820, 1180), (1280, 900))
MOST_ON_A_PHONE = 2_600
MEASURE = """() => ({
  height: document.documentElement.scrollHeight,
  wide: document.documentElement.scrollWidth - innerWidth,
})"""


def test_accepted_orders_of_the_demo_are_short(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    mechanic = fill_demo_shop()[Role.MECHANIC]
    for order in WorkOrder.objects.filter(state=WorkOrder.State.OPEN):
        work_order_accept(order=order, member=mechanic)
    orders = list(WorkOrder.objects.order_by("pk"))
    assert {order.state for order in orders} == {"accepted", "done"}
    page, complaints = signed_in_page(mechanic)
    told = []
    for order in orders:
        page.goto(f"/work-orders/{order.pk}/")
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            found = page.evaluate(MEASURE)
            print(f"work order {order.pk}, {order.state}, {width}: {found['height']} px high")  # noqa: T201 - what this is for
            most = MOST_ON_A_PHONE if width == SIZES[0][0] else found["height"]
            if found["height"] > most or found["wide"] > 0:
                told.append(f"work order {order.pk}, {width}: {found}")
    assert complaints == []
    assert not told, "\n".join(told)
