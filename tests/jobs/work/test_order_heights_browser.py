"""The demo's work orders and the week on a phone: short, and nothing is wider than the screen."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page

from jobs.models import WorkOrder
from jobs.services.work import work_order_accept
from shopdiag.people.core.roles import Role
from shopdiag.people.models import User
from tests.jobs.demo_shop import fill_demo_shop
from tests.traces.conftest import media  # noqa: F401 - a fixture

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = ((390, 844), (820, 1180), (1280, 900))
MOST_ON_A_PHONE = 2_600
MEASURE = """() => ({
  height: document.documentElement.scrollHeight,
  wide: document.documentElement.scrollWidth - innerWidth,
})"""


def test_orders_of_the_demo_are_short(
    signed_in_page: Callable[..., tuple[Page, list[str]]],
    media: Path,  # noqa: F811
) -> None:
    people = fill_demo_shop()
    mechanic = people[Role.MECHANIC]
    page, complaints = signed_in_page(mechanic)
    told = _before_accepting(page)
    for order in WorkOrder.objects.filter(state=WorkOrder.State.OPEN):
        work_order_accept(order=order, member=mechanic)
    orders = list(WorkOrder.objects.order_by("pk"))
    assert {order.state for order in orders} == {"accepted", "done"}
    for order in orders:
        page.goto(f"/work-orders/{order.pk}/")
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            found = page.evaluate(MEASURE)
            print(f"work order {order.pk}, {order.state}, {width}: {found['height']} px high")  # noqa: T201 - what this is for
            most = MOST_ON_A_PHONE if width == SIZES[0][0] else found["height"]
            if found["height"] > most or found["wide"] > 0:
                told.append(f"work order {order.pk}, {width}: {found}")
    told += _week(signed_in_page(people[Role.OWNER])[0])
    assert complaints == []
    assert not told, "\n".join(told)


def _before_accepting(page: Page) -> list[str]:
    """The caution stands in full before the button, and the rest is short in both languages."""
    waiting = WorkOrder.objects.filter(state=WorkOrder.State.OPEN)
    assert waiting
    told = []
    for language in ("es", "en"):
        User.objects.update(language=language)
        for order in waiting:
            page.goto(f"/work-orders/{order.pk}/")
            told += _too_long(page, f"open work order {order.pk}, {language}")
            caution, accept = page.locator(".caution"), page.locator("form[action$='/accept/']")
            for sentence in order.cautions:
                assert caution.get_by_text(sentence).is_visible()
            assert caution.bounding_box()["y"] < accept.bounding_box()["y"]  # type: ignore[index]
            page.locator("#tests").wait_for(state="hidden")
    return told


def _week(page: Page) -> list[str]:
    told = []
    for language in ("es", "en"):
        User.objects.update(language=language)
        page.goto("/week/")
        told += _too_long(page, f"week, {language}")
    return told


def _too_long(page: Page, where: str) -> list[str]:
    width, height = SIZES[0]
    page.set_viewport_size({"width": width, "height": height})
    found = page.evaluate(MEASURE)
    print(f"{where}, {width}: {found['height']} px high")  # noqa: T201 - what this is for
    too_long = found["height"] > MOST_ON_A_PHONE or found["wide"] > 0
    return [f"{where}: {found}"] if too_long else []
