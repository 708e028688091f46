"""The shop's clamps: whose they are, and that every set-up offers their scales."""

from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from shopdiag.people.core.roles import Role
from tests.traces.conftest import csv_bytes
from traces.forms.setup import SetupForm
from traces.models import Clamp
from traces.services.clamps import clamp_add, clamp_retire

PAGE = reverse("traces:clamps")


def _scales(member, capture) -> list[tuple[str, str]]:
    scale: Any = SetupForm(member=member, reading=capture.reading).fields["scale"]
    return [(value, str(label)) for value, label in scale.choices]


@pytest.mark.parametrize("role", list(Role))
def test_who_records_keeps_the_clamps(cast, client_for, role):
    client = client_for(cast.insiders[role])
    sent = {"form_token": str(uuid4()), "name": "Blue clamp", "mv_per_a": "10"}
    records = role in {Role.OWNER, Role.DIAGNOSTICIAN}
    assert client.get(PAGE).status_code == (200 if records else 403)
    assert client.post(PAGE, sent).status_code == (302 if records else 403)
    assert client.post(PAGE, sent).status_code == (302 if records else 403)
    assert Clamp.objects.count() == records


@pytest.mark.parametrize(
    "given", [{"mv_per_a": "0"}, {"mv_per_a": "1e9"}, {"mv_per_a": "ten"}, {"name": ""}]
)
def test_what_no_clamp_has_comes_back(cast, client_for, given):
    sent = {"form_token": str(uuid4()), "name": "Blue clamp", "mv_per_a": "10"} | given
    answer = client_for(cast.owner).post(PAGE, sent)
    assert answer.status_code == 422
    assert not Clamp.objects.exists()


def test_the_set_up_offers_the_own_shops_clamps_first(cast, add_read):
    capture = add_read(csv_bytes(seed=3))
    before = _scales(cast.diagnostician, capture)
    clamp_add(member=cast.diagnostician, name="Blue clamp", mv_per_a=40.0)
    other = clamp_add(member=cast.owner, name="Red clamp", mv_per_a=10.0)
    clamp_add(member=cast.other_owner, name="Their clamp", mv_per_a=33.0)
    found = _scales(cast.diagnostician, capture)
    assert [value for value, _ in found[:2]] == ["10", "40"]
    assert "Red clamp" in found[0][1]
    assert "Blue clamp" in found[1][1]
    assert {value for value, _ in found} == {value for value, _ in before} | {"40"}
    clamp_retire(clamp=other)
    assert "Red clamp" not in str(_scales(cast.diagnostician, capture))


def test_another_shops_clamp_is_not_there(cast, client_for):
    clamp = clamp_add(member=cast.owner, name="Blue clamp", mv_per_a=10.0)
    address = reverse("traces:clamp-retire", args=[clamp.pk])
    assert client_for(cast.other_owner).post(address).status_code == 404
    assert client_for(cast.mechanic).post(address).status_code == 403
    clamp.refresh_from_db()
    assert clamp.retired_at is None
