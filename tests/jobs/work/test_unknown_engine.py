"""A job whose engine is not of the library: nothing is said of a drawing that is not there."""

import pytest
from django.urls import reverse

from jobs.forms.finding import cylinders_of
from jobs.selectors.captures import ANY_CYLINDERS
from jobs.services.work import work_order_create


@pytest.fixture
def unknown(take_in, cast, sign, by):
    """An order on a vehicle without an engine, on cylinder 2."""
    visit = take_in(cast.writer)
    assert visit.vehicle.engine is None
    signed = sign(visit, None, [2], kind="without", reason="Gauge.")
    return work_order_create(judgement=signed, member=by)


def test_whatever_can_be_signed_can_be_measured_and_compared(unknown, by, client_for):
    decide = client_for(by).get(reverse("jobs:decide", args=[unknown.visit_id]))
    offered = [number for number, _ in decide.context["own"].fields["chosen"].choices]
    assert cylinders_of(unknown) == offered == list(ANY_CYLINDERS)


def test_no_bank_is_named_by_a_drawing_that_is_not_there(unknown, by, client_for):
    browser = client_for(by)
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[unknown.pk])).content.decode()
        assert "drawing" not in page, name
    numbering = browser.get(reverse("jobs:numbering", args=[unknown.visit_id]))
    assert "bank_a_side" not in numbering.context["form"].fields
