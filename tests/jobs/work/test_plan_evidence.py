"""What the plan is made from: counts of an order's table, captures that agree, time to reach."""

from dataclasses import replace

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.services import EngineInput, access_keep, engine_create
from jobs.core.plan.focus import focus_of
from jobs.models import CylinderFinding, VisitCapture, WorkOrder
from jobs.selectors.findings import unrecorded_tests
from jobs.selectors.learnt_minutes import learnt_on
from jobs.selectors.plan import evidence_of, plan_of
from jobs.services.findings import NewFinding, finding_add
from jobs.services.triage import codes_add, freeze_frame_add, misfires_set, triage_of
from jobs.services.used import WasUsed, used_add
from jobs.services.work import work_order_accept, work_order_create
from tests.jobs.work.conftest import listened_to
from traces.core.findings import finding
from traces.core.report import Report
from traces.models import CaptureSetup, Run, Work
from traces.services.runs import run_add

EVEN = dict.fromkeys(range(1, 5), 1.0)
LOW = EVEN | {3: 0.57}


@pytest.fixture
def order(triaged, by, cast, run_of, sign):
    """An order of a misfire on cylinder 2 by its counts, not settled."""
    codes_add(visit=triaged, text="P0300 stored", member=by)
    misfires_set(visit=triaged, counts={1: 2, 2: 143, 3: 3, 4: 1}, member=by)
    signed = sign(triaged, run_of(triaged, EVEN), (), mechanical="no", fault_group="unsettled")
    made = work_order_create(judgement=signed, member=by)
    return work_order_accept(order=made, member=cast.mechanic)


def count(order, cast, counts):
    for cylinder, misfires in counts.items():
        found = NewFinding(
            cylinder, "counts", "ambiguous", figures={"misfires": misfires}, words="Drive home."
        )
        finding_add(order=order, member=cast.mechanic, found=found)


def known(visit):
    return evidence_of(visit, plan_of(visit).run, None)


def test_newer_counts_of_an_orders_table_move_the_focus(order, cast):
    assert focus_of(known(order.visit)).cylinders == (2,)
    count(order, cast, {1: 1, 2: 4, 3: 2, 4: 260})
    evidence = known(order.visit)
    assert evidence.counts == {1: 1, 2: 4, 3: 2, 4: 260}
    assert focus_of(evidence).cylinders == (4,)


def test_counts_of_one_cylinder_compare_nothing(order, cast):
    count(order, cast, {4: 260})
    assert known(order.visit).counts == {1: 2, 2: 143, 3: 3, 4: 1}


def test_a_newer_reading_of_the_initial_checks_goes_first(order, cast, by):
    count(order, cast, {1: 1, 2: 4, 3: 2, 4: 260})
    again = {1: 0, 2: 80, 3: 1, 4: 2}
    misfires_set(visit=order.visit, counts=again, member=by)
    assert known(order.visit).counts == again


def test_captures_agree_that_name_the_same_cylinders(triaged, run_of):
    run = run_of(triaged, LOW)
    assert evidence_of(triaged, run, None).compression.captures == 1
    run_of(triaged, EVEN)
    run_of(triaged, EVEN | {2: 0.57})
    assert evidence_of(triaged, run, None).compression.captures == 1
    run_of(triaged, LOW)
    assert evidence_of(triaged, run, None).compression.captures == 2


def test_an_older_analysis_of_a_capture_is_no_result_of_it(triaged, run_of, by):
    run = run_of(triaged, LOW)
    assert plan_of(triaged).run == run
    again = run_add(
        member=by, capture=run.capture, analysis=replace(run.setup.analysis, rate_hz=2000.0)
    )
    for state in (
        {"state": Work.State.DONE, "verdict": "not judged"},
        {"state": Work.State.DONE, "verdict": "even", "result": run_of(triaged, EVEN).result},
    ):
        Run.objects.filter(pk=again.pk).update(**state)
        assert plan_of(triaged).run != run
        assert not known(triaged).compression.weak
    # what was signed counts for its capture
    assert evidence_of(triaged, run, None).compression.weak


def test_a_recording_that_is_here_twice_agrees_with_nobody(triaged, run_of):
    runs = [run_of(triaged, LOW), run_of(triaged, LOW)]
    for run in runs:
        run.reading.sketch = list(range(1, 97))
        run.reading.save(update_fields=["sketch"])
    assert evidence_of(triaged, runs[0], None).compression.captures == 1


def test_reaching_two_banks_is_taken_off_bank_by_bank(cast, take_in, sign):
    places = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
    six = engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name="Bench six",
            layout="V6",
            order=FiringOrder.parse("1-2-3-4-5-6"),
            places=places,
            numbering="Alternating",
            fuel="petrol",
            source="Stamped on the cover",
        ),
    )
    access_keep(member=cast.owner, engine=six, minutes={places[1].bank: 150, places[2].bank: 20})
    for _ in range(3):
        visit = listened_to(take_in(cast.writer, engine=six), cast.diagnostician)
        signed = sign(
            visit, None, (1, 2), kind="without", mechanical="no", reason="x", fault_group="ignition"
        )
        order = WorkOrder.objects.create(
            shop=visit.shop,
            visit=visit,
            judgement=signed,
            created_by=cast.diagnostician,
            request="x",
            cylinders=[1, 2],
            state=WorkOrder.State.ACCEPTED,
            accepted_by=cast.mechanic,
        )
        found = NewFinding(2, "leak_down", "good", leak_percent=8.0, words="x")
        finding_add(order=order, member=cast.mechanic, found=found)
        used_add(visit=visit, member=cast.mechanic, used=WasUsed(minutes=200), order=order)
        WorkOrder.objects.filter(pk=order.pk).update(state=WorkOrder.State.DONE)
    assert learnt_on(cast.shop, six)["leak_down"].minutes == 200 - 150 - 20


def test_a_capture_refused_for_timing_stops_the_plan_too(triaged, run_of):
    run = run_of(triaged, verdict="not judged")  # clipped
    assert plan_of(triaged).plan.stop == ""
    refused = finding("sync-doubled", ripple="1", cylinders=4, why="")
    run.result = Report("not judged", (), findings=(refused,)).to_json()
    run.save(update_fields=["result"])
    assert plan_of(triaged).plan.stop


def at(run, temperature):
    CaptureSetup.objects.filter(pk=run.setup_id).update(temperature=temperature)
    return Run.objects.select_related("setup", "capture").get(pk=run.pk)


def test_it_was_tried_warm_where_any_even_capture_was(triaged, run_of):
    cold, other = at(run_of(triaged, EVEN), "cold"), at(run_of(triaged, LOW), "hot")

    def temperature():
        return evidence_of(triaged, cold, None).compression.temperature

    assert temperature() == "cold"
    unknown = run_of(triaged, EVEN)
    assert temperature() == ""
    warm = at(run_of(triaged, EVEN), "warm")
    assert temperature() == "warm"
    # also where a cold one came last, and is the one that is planned by
    assert evidence_of(triaged, unknown, None).compression.temperature == "warm"
    assert evidence_of(triaged, other, None).compression.temperature == "warm"
    VisitCapture.objects.filter(capture=warm.capture).update(aside_why="clamp slipped")
    assert temperature() == ""


def test_a_repeat_is_warm_by_its_record_or_by_the_capture_made_for_it(order, cast, run_of):
    def repeat(**given):
        found = NewFinding(None, "repeat", "bad", words="One low.", **given)
        row = finding_add(order=order, member=cast.mechanic, found=found)
        warm = [d.is_warm for d in known(order.visit).done if d.test == "repeat"]
        CylinderFinding.objects.filter(pk=row.pk).delete()
        return warm

    assert repeat() == [None]
    assert repeat(is_warm=True) == [True]
    assert repeat(is_warm=False) == [False]
    made = run_of(order.visit, LOW)
    assert repeat() == [None]
    for temperature, is_warm in (("cold", False), ("hot", True)):
        at(made, temperature)
        assert repeat() == [is_warm]
    # what was noted goes before the capture's set-up
    assert repeat(is_warm=False) == [False]


def test_a_capture_asked_for_cold_and_hot_is_lacking_until_both_are_noted(order, cast):
    order.tests = [{"key": "repeat", "words": "Cold and hot."}]
    order.save(update_fields=["tests"])
    assert unrecorded_tests(order) == []
    # whoever has it may record captures
    order.accepted_by = cast.diagnostician

    def lacks():
        return [words.partition("(")[2] for words in unrecorded_tests(order)]

    def repeat(**given):
        found = NewFinding(None, "repeat", words="Even.", **({"outcome": "good"} | given))
        return finding_add(order=order, member=cast.diagnostician, found=found)

    assert lacks() == [""]
    repeat()
    assert lacks() == ["cold, warm)"]
    repeat(is_warm=False, conditions="after a night")
    assert lacks() == ["warm)"]
    repeat(is_warm=True, conditions="after a drive")
    assert lacks() == []
    CylinderFinding.objects.filter(is_warm=True).delete()
    # one that was not made for a reason is not left
    repeat(outcome="not_done")
    assert lacks() == []


def test_a_freeze_frame_on_record_is_known_to_the_plan(order, by):
    triage = triage_of(visit=order.visit)
    triage.verified = "no"
    triage.save()
    assert not known(order.visit).has_frame
    freeze_frame_add(visit=order.visit, text="P0302\nEngine speed 780 rpm", member=by)
    assert known(order.visit).has_frame


def test_of_what_was_not_done_the_plan_takes_in_banks_alone(order, cast):
    for found in (
        NewFinding(None, "trims", "not_done", bank=2, words="Not reported."),
        NewFinding(None, "fuel_press", "not_done", words="No gauge."),
    ):
        finding_add(order=order, member=cast.mechanic, found=found)
    done = known(order.visit).done
    assert [(d.test, d.outcome, d.bank) for d in done] == [("trims", "not_done", 2)]
