"""What the plan says a test takes, once the shop has booked time on orders of the engine."""

import pytest
from django.urls import reverse

from engines.services import access_keep
from jobs.core.plan.learning import LEAST_ORDERS
from jobs.models import WorkOrder
from jobs.selectors.learnt_minutes import learnt_on
from jobs.selectors.plan import plan_of
from jobs.services.findings import NewFinding, finding_add
from jobs.services.triage import codes_add
from jobs.services.used import WasUsed, used_add, used_take_back
from tests.jobs.work.conftest import listened_to, make_run

EVEN = dict.fromkeys(range(1, 5), 1.0)
DONE = WorkOrder.State.DONE


@pytest.fixture
def booked(cast, take_in, four, sign):
    """Make a finished order of the engine on which a test was made and minutes were booked."""

    def make(minutes, test="coil", by=cast.diagnostician, *, is_warm=None):
        visit = listened_to(take_in(cast.writer, engine=four), by)
        judgement = sign(
            visit, None, (2,), kind="without", mechanical="no", reason="x", fault_group="ignition"
        )
        order = WorkOrder.objects.create(
            shop=visit.shop,
            visit=visit,
            judgement=judgement,
            created_by=by,
            request="x",
            cylinders=[2],
            state=WorkOrder.State.ACCEPTED,
            accepted_by=cast.mechanic,
        )
        found = NewFinding(
            2 if test != "repeat" else None,
            test,
            "good",
            leak_percent=8.0 if test == "leak_down" else None,
            is_warm=is_warm,
            words="x",
        )
        finding_add(order=order, member=cast.mechanic, found=found)
        line = used_add(
            visit=visit, member=cast.mechanic, used=WasUsed(minutes=minutes), order=order
        )
        WorkOrder.objects.filter(pk=order.pk).update(state=DONE)
        return order, line

    return make


def test_the_median_of_enough_orders_counts_and_is_said(booked, four, cast, take_in, client_for):
    for minutes in (40, 50, 200):
        booked(minutes, "injector")
    found = learnt_on(cast.shop, four)["injector"]
    assert (found.minutes, found.orders) == (50, 3)
    visit = listened_to(take_in(cast.writer, engine=four), cast.diagnostician)
    codes_add(visit=visit, text="P0263 P0302", member=cast.diagnostician)
    make_run(cast.diagnostician, visit, EVEN)
    page = client_for(cast.mechanic).get(reverse("jobs:plan", args=[visit.pk]))
    for plan in (plan_of(visit).plan, page.context["plan"]):
        named = [(t.minutes, t.learnt_from) for t in plan.tests if t.key == "injector"]
        assert named == [(50, 3)]


def test_a_capture_repeated_warm_teaches_what_a_warm_one_takes(booked, four, cast):
    for minutes in (30, 35, 40):
        booked(minutes, "repeat", is_warm=True)
        booked(minutes - 20, "repeat")
    found = learnt_on(cast.shop, four)
    assert (found["repeat_warm"].minutes, found["repeat"].minutes) == (35, 15)


def test_too_few_orders_leave_the_usual_minutes(booked, four, cast):
    for _ in range(LEAST_ORDERS - 1):
        booked(40)
    assert learnt_on(cast.shop, four) == {}


def test_reaching_that_is_kept_with_the_engine_is_taken_off(booked, four, cast):
    access_keep(member=cast.owner, engine=four, minutes={"": 30})
    for _ in range(3):
        booked(75, "leak_down")
    assert learnt_on(cast.shop, four)["leak_down"].minutes == 45


def test_a_line_that_was_taken_back_teaches_nothing(booked, four, cast):
    lines = [booked(40)[1] for _ in range(3)]
    used_take_back(line=lines[0], member=cast.mechanic)
    assert learnt_on(cast.shop, four) == {}


def test_another_shop_learns_nothing_of_it(booked, four, cast):
    for _ in range(3):
        booked(40)
    assert learnt_on(cast.other_shop, four) == {}


def test_an_unknown_engine_has_nothing_learnt(cast):
    assert learnt_on(cast.shop, None) == {}
