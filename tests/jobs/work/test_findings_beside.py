"""A finding that does not fit those beside it is asked back, by the page and by the API."""

from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import CylinderFinding
from jobs.services.findings import NewFinding, finding_add
from tests.api.conftest import api_for
from tests.jobs.work.kept_order import cast, kept, order, taken, visit

__all__ = ["cast", "kept", "order", "taken", "visit"]

__all__ = ["api_for"]

DRY, WET, LEAK, RUNNING = "gauge_dry", "gauge_wet", "leak_down", "running"


def _kpa(cylinder, test, outcome, kpa):
    return NewFinding(cylinder, test, outcome, pressure_kpa=kpa)


def _leak(outcome, percent):
    return NewFinding(3, LEAK, outcome, leak_percent=percent, heard_at="exhaust")


def _is_asked(order, member, found):
    try:
        finding_add(order=order, member=member, found=found)
    except ValidationError as error:
        if set(error.message_dict) != {"confirmed"}:
            raise
        return True
    return False


@pytest.mark.parametrize(
    ("there", "new", "asked"),
    [
        # bad, though inside the limits beside a good one; in either order
        (_kpa(1, DRY, "good", 1210), _kpa(3, DRY, "bad", 1180), True),
        (_kpa(3, DRY, "bad", 1180), _kpa(1, DRY, "good", 1210), True),
        (_kpa(1, DRY, "good", 1210), _kpa(3, DRY, "bad", 640), False),
        (_kpa(3, DRY, "bad", 640), _kpa(1, DRY, "good", 1210), False),
        # nothing good to hold it against
        (_kpa(1, DRY, "bad", 660), _kpa(3, DRY, "bad", 640), False),
        # oil lowers no reading
        (_kpa(3, DRY, "bad", 640), _kpa(3, WET, "bad", 600), True),
        (_kpa(3, WET, "bad", 600), _kpa(3, DRY, "bad", 640), True),
        (_kpa(3, DRY, "bad", 640), _kpa(3, WET, "bad", 640), False),
        (_kpa(3, DRY, "bad", 640), _kpa(1, WET, "bad", 600), False),
        # a second one of the same test and cylinder
        (_kpa(3, DRY, "bad", 640), _kpa(3, DRY, "bad", 820), True),
        (_kpa(3, DRY, "bad", 640), _kpa(3, DRY, "bad", 655), False),
        (_leak("bad", 40), _leak("bad", 62), True),
        (_leak("bad", 40), _leak("bad", 46), False),
        (
            NewFinding(3, RUNNING, "good", idle_kpa=480.0),
            NewFinding(3, RUNNING, "good", idle_kpa=390.0),
            True,
        ),
    ],
)
def test_what_does_not_fit_what_is_there_is_asked_back(order, cast, there, new, asked):
    assert not _is_asked(order, cast.mechanic, there)
    assert _is_asked(order, cast.mechanic, new) is asked


@pytest.mark.parametrize(("percent", "asked"), [(0, True), (0.4, True), (1, False), (6, False)])
def test_a_leak_that_no_cylinder_has_is_asked_back(order, cast, percent, asked):
    assert _is_asked(order, cast.mechanic, _leak("good", percent)) is asked


def test_a_correction_is_not_asked_whether_it_replaces(order, cast):
    first = finding_add(order=order, member=cast.mechanic, found=_kpa(3, DRY, "bad", 640))
    found = _kpa(3, DRY, "bad", 820)
    finding_add(order=order, member=cast.mechanic, found=found, replaces=first)
    assert CylinderFinding.objects.count() == 2


def test_what_was_confirmed_is_not_asked_again_with_each_cylinder(order, cast):
    finding_add(order=order, member=cast.mechanic, found=_kpa(1, DRY, "good", 1210))
    odd = NewFinding(3, DRY, "bad", pressure_kpa=1180, confirmed=True)
    finding_add(order=order, member=cast.mechanic, found=odd)
    assert not _is_asked(order, cast.mechanic, _kpa(2, DRY, "good", 1200))
    # but what the new one makes odd is
    assert _is_asked(order, cast.mechanic, _kpa(4, DRY, "bad", 1190))


def test_programs_are_asked_as_well(order, cast, api_for):
    api, here = api_for(cast.mechanic), reverse("api:findings", args=[order.pk])
    body = {"cylinder": 3, "test": DRY, "outcome": "bad", "pressure_kpa": 640}
    assert api.post(here, body).status_code == 201
    wet = body | {"test": WET, "pressure_kpa": 500}
    refused = api.post(here, wet)
    assert (refused.status_code, set(refused.json())) == (400, {"confirmed"})
    assert api.post(here, wet | {"confirmed": True}).status_code == 201


def test_a_bad_leak_whose_air_was_heard_nowhere_is_asked_back(order, cast):
    """The place names the leak (FAA AC 43.13-1B ch. 8); a box left as it was is no answer."""
    nowhere = NewFinding(3, LEAK, "bad", leak_percent=38)
    assert _is_asked(order, cast.mechanic, nowhere)
    assert not _is_asked(order, cast.mechanic, replace(nowhere, heard_at="exhaust"))
    assert not _is_asked(order, cast.mechanic, NewFinding(4, LEAK, "good", leak_percent=6))
