"""Jobs whose diagnosis is done: what was found, what the customer said, and the repair's order."""

import pytest
from django.urls import reverse

from jobs.models import Visit, WorkOrder
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept, work_order_create
from tests.conftest import Cast
from tests.row_layers import layer

__all__ = ["YES", "address", "again", "finish", "repair", "repaired", "say"]

YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400", scope="Exhaust valve")


@layer
def repaired(order: WorkOrder, cast: Cast) -> Visit:
    """A visit whose work order is done."""
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    order.refresh_from_db()
    work_order_complete(
        order=order, member=cast.mechanic, summary="Valve burnt.", left_out="Clear enough."
    )
    order.visit.refresh_from_db()
    return order.visit


@pytest.fixture
def address(repaired):
    return reverse("jobs:outcome-edit", args=[repaired.pk])


@pytest.fixture
def finish(cast):
    def done(order):
        work_order_accept(order=order, member=cast.mechanic)
        for cylinder in order.cylinders or [3]:
            found = NewFinding(cylinder, "gauge_dry", "bad", 620)
            finding_add(order=order, member=cast.mechanic, found=found)
        order.refresh_from_db()
        return work_order_complete(
            order=order, member=cast.mechanic, summary="Valve.", left_out="Clear."
        )

    return done


@pytest.fixture
def say(cast):
    return lambda visit, said=YES: consent_add(visit=visit, member=cast.writer, said=said)


@pytest.fixture
def again(sign):
    """Sign a later verdict without a capture."""

    def signed(visit, cylinders=(3,), **other):
        return sign(visit, None, cylinders, kind="without", reason="As found.", **other)

    return signed


@pytest.fixture
def repair(order, finish, say, again, by):
    """The order of the repair that was agreed once the diagnosis was done."""
    finish(order)
    say(order.visit)
    return work_order_create(judgement=again(order.visit), member=by)
