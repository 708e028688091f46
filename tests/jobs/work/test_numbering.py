"""The cylinder numbering is confirmed by a person on this vehicle, once a visit."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from engines.models import Engine
from jobs.models import NumberingCheck, TimelineEvent
from jobs.selectors.numbering import mounting_offered, numbering_of
from jobs.services.numbering import SeenOnVehicle, numbering_confirm
from jobs.services.work import work_order_create


@pytest.fixture
def order(signed, by):
    return work_order_create(judgement=signed, member=by)


def pages(client, order):
    for name in ("jobs:work-order", "jobs:work-order-print"):
        yield client.get(reverse(name, args=[order.pk]))


def test_an_order_says_that_nobody_confirmed_it(client_for, order, by):
    for page in pages(client_for(by), order):
        assert page.context["numbering"] is None
        assert b"<strong>\xe2\x96\xb2 The cylinder numbering is not confirmed" in page.content


def test_a_mechanic_confirms_it_from_the_order(client_for, cast, order):
    client = client_for(cast.mechanic)
    back = reverse("jobs:work-order", args=[order.pk])
    address = reverse("jobs:numbering", args=[order.visit_id])
    sent = {"form_token": uuid4(), "basis": "casting", "direction": "right", "next": back}
    for _ in range(2):
        response = client.post(address, sent)
        assert response.headers["Location"] == back
    check = NumberingCheck.objects.get()
    assert (check.by, check.basis, check.direction) == (cast.mechanic, "casting", "right")
    assert TimelineEvent.objects.filter(kind="numbering").count() == 1
    for page in pages(client, order):
        assert page.context["numbering"] == check
        assert page.context["plan"].travel
        assert "right" in page.context["slips"][0].face
        assert b"not confirmed" not in page.content


def test_an_inline_engine_is_not_asked_for_banks(client_for, cast, order):
    page = client_for(cast.mechanic).get(reverse("jobs:numbering", args=[order.visit_id]))
    assert "bank_a_side" not in page.context["form"].fields


def test_contradictions_are_told_and_keep_what_was_chosen(client_for, by, take_in):
    six = Engine.objects.create(key="test-v6", name="V6", layout="V6", firing_order="1-4-2-5-3-6")
    visit = take_in(by, engine=six)
    address = reverse("jobs:numbering", args=[visit.pk])
    sent = {"form_token": uuid4(), "basis": "data", "direction": "right", "bank_a_side": "left"}
    with pytest.raises(ValidationError):
        numbering_confirm(visit=visit, member=by, seen=SeenOnVehicle("data", "right", "left"))
    page = client_for(by).post(address, sent)
    assert page.status_code == 422
    assert not NumberingCheck.objects.exists()


def test_the_next_visit_asks_again_and_offers_how_the_engine_sits(take_in, by, visit):
    numbering_confirm(visit=visit, member=by, seen=SeenOnVehicle("coil", "left"))
    later = take_in(by, vehicle=visit.vehicle, customer=visit.vehicle.customer)
    assert numbering_of(later) is None
    assert mounting_offered(later) == {"direction": "left", "bank_a_side": ""}


def test_a_later_confirmation_stands_whatever_the_clock_says(by, visit):
    first = numbering_confirm(visit=visit, member=by, seen=SeenOnVehicle("coil"))
    second = numbering_confirm(visit=visit, member=by, seen=SeenOnVehicle("casting"))
    assert second.pk > first.pk
    assert numbering_of(visit) == second
