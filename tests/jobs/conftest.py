"""Visits to test on, opened the way people open them."""

from collections.abc import Callable
from itertools import count
from typing import Any

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.models import Engine
from engines.services import EngineInput, engine_create
from jobs.models import Complaint, Customer, Vehicle, Visit
from jobs.services.intake import visit_open
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.row_layers import layer

_numbers = count(1)


def visit_taken_in(member: Member, **given: Any) -> Visit:
    """Open a visit as a member of a shop; words and numbers may be given."""
    n = next(_numbers)
    customer = given.get("customer") or Customer(
        name=given.get("name", f"Casey Customer {n}"),
        phone=given.get("phone", f"030 55 {n:04d}"),
    )
    vehicle = given.get("vehicle") or Vehicle(
        plate=given.get("plate", f"KX {n:03d} T"),
        vin=given.get("vin", ""),
        make=given.get("make", "Orchard"),
        model=given.get("model", "Estate"),
        engine=given.get("engine"),
        drive=given.get("drive", Vehicle.Drive.STARTER),
    )
    return visit_open(
        member=member,
        customer=customer,
        vehicle=vehicle,
        complaint=Complaint(words=given.get("words", "It shakes at the lights.")),
        odometer=given.get("odometer"),
        form_token=given.get("form_token"),
        confirmed=True,
    )


@pytest.fixture
def take_in(db: None) -> Callable[..., Visit]:
    return visit_taken_in


def make_four(cast: Cast) -> Engine:
    """Add a four-cylinder engine to the cast's first shop."""
    order = FiringOrder.parse("1-3-4-2", None)
    return engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name="Bench four",
            layout="I4",
            order=order,
            places=places_by_numbering(layout_of("I4"), len(order), Numbering.FRONT),
            numbering="From the front",
            fuel="petrol",
            source="Stamped on the cover",
        ),
    )


@layer
def four(cast: Cast) -> Engine:
    """A four-cylinder engine of the cast's first shop."""
    return make_four(cast)


@layer
def visit(cast: Cast, four: Engine) -> Visit:
    """An open visit in the cast's first shop, with an engine that is known."""
    return visit_taken_in(cast.writer, engine=four)


@pytest.fixture
def their_visit(cast, take_in: Callable[..., Visit]) -> Visit:
    """An open visit in the other shop."""
    return take_in(cast.outsider, plate="OT 1", name="Somebody Elsewhere")
