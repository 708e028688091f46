"""A verdict signed after the order was made reaches the order that is still open."""

from html import unescape

import pytest
from django.urls import reverse

from jobs.services.judgements import judgement_sign
from jobs.services.work import (
    work_order_withdraw,
)
from tests.api.conftest import api_for
from tests.page_text import as_read

__all__ = ["api_for"]


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def _said_on(browser, order):
    """Return what the order's page, its sheet and the job card say of a later verdict."""
    places = [
        browser.get(reverse(f"jobs:{name}", args=[order.pk]))
        for name in ("work-order", "work-order-print")
    ]
    card = browser.get(reverse("jobs:visit", args=[order.visit_id]))
    (listed,) = [o for o in card.context["work"].orders if o.pk == order.pk]
    said = [page.context["superseded"] for page in places] + [listed.superseded]
    for page, words in zip([*places, card], said, strict=True):
        assert not words or words in unescape(as_read(page.content.decode()))
    return said


@pytest.mark.parametrize(
    ("later", "named_there"),
    [
        ({"mechanical": "yes", "cylinders": [1]}, "cylinder 1"),
        ({"mechanical": "yes", "cylinders": []}, "no cylinder"),
        (
            {"mechanical": "no", "cylinders": [3], "fault_group": "ignition"},
            "no compression fault found",
        ),
    ],
)
def test_a_later_verdict_reaches_the_open_order(  # noqa: PLR0917 - fixtures
    browser, order, signed, by, api_for, later, named_there
):
    assert _said_on(browser, order) == ["", "", ""]
    again = {"visit": order.visit, "member": by, "kind": "overruled", "run": signed.run}
    # the same said once more is no other order
    judgement_sign(**again, mechanical="yes", cylinders=[3], reason="Heard it again.")
    assert _said_on(browser, order) == ["", "", ""]
    judgement_sign(**again, **later, reason="A second sync.")
    said = _said_on(browser, order)
    assert len(set(said)) == 1
    assert named_there in said[0]
    api = api_for(by)
    for row in (
        api.get(reverse("api:work-order", args=[order.pk])).json(),
        api.get(reverse("api:visit-orders", args=[order.visit_id])).json()[0],
    ):
        assert row["superseded"] == said[0]
    work_order_withdraw(order=order, member=by, reason="Another cylinder.")
    assert _said_on(browser, order) == ["", "", ""]
