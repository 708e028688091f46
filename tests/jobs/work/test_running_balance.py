"""A running balance on a job: beside the cranking balance, and never taken for one."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.core.plan import NOT_RECORDED, Costs, plan_for
from jobs.core.running_beside import Beside, flywheel_doubt
from jobs.models import Visit, VisitCapture, WorkOrder
from jobs.selectors.captures import capture_rows
from jobs.selectors.decision import run_to_decide
from jobs.selectors.history import vehicle_runs
from jobs.selectors.learning import checked_calls
from jobs.selectors.outcome import customer_copy_of
from jobs.selectors.plan import evidence_of, run_shown
from jobs.selectors.pooled_captures import captures_together
from jobs.selectors.running import (
    idling_done,
    idling_for_customer,
    idling_words,
    running_beside,
)
from jobs.selectors.work import visit_work
from jobs.services.captures import capture_purpose_set
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_accept, work_order_create
from jobs.views.deciding import misfiring_by
from shopdiag.people.models import Member
from tests.conftest import Cast
from traces.core.findings import finding
from traces.core.setup import SetupError
from traces.core.signal_kinds import DEFAULT_SIGNAL
from traces.models import Run, Work
from traces.services import run_add


@pytest.fixture
def order_on(by: Member, cast: Cast) -> Callable[[Visit], WorkOrder]:
    """Make an accepted order from a verdict that rests on no capture."""

    def make(visit: Visit) -> WorkOrder:
        signed = judgement_sign(
            visit=visit,
            member=by,
            kind="without",
            mechanical="yes",
            cylinders=[3],
            reason="By ear.",
        )
        order = work_order_create(judgement=signed, member=by)
        return work_order_accept(order=order, member=cast.mechanic)

    return make


DEAD_3 = {1: 1.0, 2: 0.99, 3: 0.1, 4: 1.01}
EVEN = {1: 1.0, 2: 0.99, 3: 1.0, 4: 1.01}


def test_it_stands_beside_the_cranking_test_and_counts_for_none(
    triaged: Visit, run_of, idle_of, by: Member
) -> None:
    cranked = run_of(triaged, EVEN)
    idle_of(triaged, DEAD_3)
    found = running_beside(triaged)
    assert found is not None
    assert found.cranking == cranked
    assert [(line.kind, line.cylinders) for line in found.lines] == [(Beside.BURN, (3,))]
    assert found.burning_badly == (3,)
    # neither offered for signing, nor pooled, nor counted as cranked
    assert run_to_decide(triaged) == cranked
    assert captures_together(triaged) is None
    work = visit_work(by, triaged)
    assert (len(work.captures), len(work.idling)) == (1, 1)


def test_weak_in_both_is_mechanical(triaged: Visit, run_of, idle_of) -> None:
    run_of(triaged, EVEN | {3: 0.5})
    idle_of(triaged, DEAD_3)
    found = running_beside(triaged)
    assert found is not None
    assert [line.kind for line in found.lines] == [Beside.MECHANICAL]


def test_captures_that_contradict_each_other_are_told_to_nobody(
    triaged: Visit, run_of, idle_of
) -> None:
    run_of(triaged, EVEN)
    idle_of(triaged, EVEN | {1: 0.1})
    idle_of(triaged, DEAD_3)
    found = running_beside(triaged)
    assert found is not None
    assert [line.kind for line in found.lines] == [Beside.DISAGREE]
    assert not found.is_judged_even
    assert (found.weak, found.cylinders) == ((), ())
    assert idling_done(found) == idling_for_customer(triaged) == ""
    # one that leaves open what another settles agrees with it
    VisitCapture.objects.filter(visit=triaged, purpose=VisitCapture.Purpose.RUNNING).delete()
    idle_of(triaged, DEAD_3)
    idle_of(triaged, DEAD_3, candidates=[(3,), (2,)], known=False)
    found = running_beside(triaged)
    assert found is not None
    assert found.burning_badly == (3,)
    assert "10 %" in idling_for_customer(triaged)


def test_what_rests_on_the_flywheel_is_confirmed_before_it_is_said(
    triaged: Visit, run_of, idle_of
) -> None:
    run_of(triaged, EVEN)
    run = idle_of(triaged, DEAD_3)
    report = replace(run.report, findings=(finding("flywheel-decides"),))
    Run.objects.filter(pk=run.pk).update(result=report.to_json())
    found = running_beside(triaged)
    assert found is not None
    assert found.burning_badly == (3,)
    assert flywheel_doubt() in idling_words(found)
    assert flywheel_doubt() in idling_done(found)
    assert not misfiring_by(found).get("misfiring")
    assert idling_for_customer(triaged) == ""


def test_the_signed_cylinder_counts_before_that_of_the_report(
    triaged: Visit, run_of, idle_of, by: Member, django_assert_max_num_queries
) -> None:
    run = run_of(triaged, EVEN)
    idle_of(triaged, EVEN | {2: 0.1})
    signed = judgement_sign(
        visit=triaged,
        member=by,
        run=run,
        kind="overruled",
        mechanical="yes",
        cylinders=[2],
        reason="The gauge says so.",
    )
    rows = capture_rows(triaged)
    # with what a page has, nothing of the captures is read once more
    with django_assert_max_num_queries(2):
        found = running_beside(triaged, rows, signed=signed)
    assert found is not None
    assert [(line.kind, line.cylinders) for line in found.lines] == [(Beside.MECHANICAL, (2,))]
    assert running_beside(triaged) == found


def test_no_verdict_is_signed_on_it(triaged: Visit, idle_of, by: Member) -> None:
    run = idle_of(triaged, DEAD_3)
    with pytest.raises(ValidationError):
        judgement_sign(
            visit=triaged,
            member=by,
            run=run,
            kind="overruled",
            mechanical="yes",
            cylinders=[3],
            reason="It is dead.",
        )
    assert not triaged.judgements.exists()


def test_pages_show_both_and_offer_no_signing_on_the_idling_one(
    triaged: Visit, run_of, idle_of, client_for: Callable[[Member], Client], cast: Cast
) -> None:
    run_of(triaged, EVEN)
    idle = idle_of(triaged, DEAD_3)
    client = client_for(cast.diagnostician)
    job = client.get(reverse("jobs:visit", args=[triaged.pk]))
    assert 'id="beside"' in job.content.decode()
    page = client.get(reverse("jobs:capture", args=[idle.capture_id]))
    text = page.content.decode()
    assert 'id="beside"' in text
    assert "accept" not in page.context
    assert 'id="sign"' not in text
    decide = client.get(reverse("jobs:decide", args=[triaged.pk]), {"run": idle.pk})
    assert decide.status_code == 404


def test_the_set_up_says_whether_the_engine_idles(triaged: Visit, run_of, by: Member) -> None:
    run = run_of(triaged, EVEN)
    setup = replace(run.setup.analysis, rate_hz=2000.0)
    idling = replace(setup, signal="running-teeth")
    run_add(member=by, capture=run.capture, analysis=idling)
    tie = VisitCapture.objects.get(capture=run.capture_id)
    assert tie.purpose == VisitCapture.Purpose.RUNNING
    run_add(member=by, capture=run.capture, analysis=setup)
    tie.refresh_from_db()
    assert tie.purpose == VisitCapture.Purpose.DIAGNOSIS
    # what is signed as a cranking test stays one
    judgement_sign(
        visit=triaged, member=by, run=run, kind="accepted", mechanical="no", cylinders=[]
    )
    with pytest.raises(SetupError):
        run_add(member=by, capture=run.capture, analysis=idling)
    tie.refresh_from_db()
    assert tie.purpose == VisitCapture.Purpose.DIAGNOSIS


def test_what_was_found_of_the_idling_engine_is_no_cranking_result_later(
    triaged: Visit, idle_of, by: Member, order_on, cast: Cast
) -> None:
    idle = idle_of(triaged, DEAD_3)
    cranked = replace(idle.setup.analysis, signal=DEFAULT_SIGNAL, rate_hz=2000.0)
    second = run_add(member=by, capture=idle.capture, analysis=cranked)
    assert idle.capture.visit_capture.purpose == VisitCapture.Purpose.DIAGNOSIS
    no_report = {"verdict": "not judged", "result": None}
    for state in ({}, {"state": Work.State.FAILED}, {"state": Work.State.DONE, **no_report}):
        Run.objects.filter(pk=second.pk).update(**state)
        visit = Visit.objects.get(pk=triaged.pk)
        # neither offered for signing, nor planned by, nor drawn, nor told of
        assert run_to_decide(visit) in {None, second}
        assert run_shown(visit) is None
        assert customer_copy_of(visit).evidence.before is None
        assert vehicle_runs(by, visit.vehicle) == []
        (row,) = capture_rows(visit, until=timezone.now())
        assert row.report is None
        with pytest.raises(ValidationError):
            judgement_sign(
                visit=visit, member=by, run=idle, kind="accepted", mechanical="yes", cylinders=[3]
            )
    # nor learnt from
    finding_add(
        order=order_on(triaged),
        member=cast.mechanic,
        found=NewFinding(3, "gauge_dry", "bad", pressure_kpa=620.0, confirmed=True),
    )
    assert checked_calls(cast.owner) == []
    # what the newest set-up finds counts, though the other one found a weak cylinder
    Run.objects.filter(pk=second.pk).update(state=Work.State.DONE, verdict="even")
    assert run_shown(triaged) == second
    assert vehicle_runs(by, triaged.vehicle) == [second]


def test_a_set_up_of_before_signals_were_named_is_of_the_cranked_engine(
    triaged: Visit, run_of
) -> None:
    run = run_of(triaged, EVEN)
    del run.setup.settings["signal"]
    run.setup.save()
    assert run_to_decide(triaged) == run_shown(triaged) == run


def test_the_plan_looks_for_the_burn_of_that_cylinder(triaged: Visit, run_of, idle_of) -> None:
    cranked = run_of(triaged, EVEN)
    before = evidence_of(triaged, cranked, None)
    assert before.idle == NOT_RECORDED
    idle_of(triaged, DEAD_3)
    evidence = evidence_of(triaged, cranked, None)
    assert evidence.idle.burns_badly == {3}
    plan = plan_for(evidence, Costs())
    assert plan.tests[0].cylinders == (3,)
    leading = {cause.key for cause in plan.leading}
    assert leading & {"coil", "plug", "injector_electric", "injector_clogged"}
    assert not leading & {"valve_leak", "rings"}


def test_a_recording_after_the_repair_shows_whether_it_adds_again(
    triaged: Visit, run_of, idle_of, by: Member, client_for: Callable[[Member], Client]
) -> None:
    cranked = run_of(triaged, EVEN)
    idle_of(triaged, DEAD_3)
    signed = judgement_sign(
        visit=triaged,
        member=by,
        run=cranked,
        kind="accepted",
        mechanical="no",
        fault_group="ignition",
        cylinders=[3],
    )
    order = work_order_create(judgement=signed, member=by)
    # the order takes along what both tests say, and that the idle need not be recorded again
    found = visit_work(by, triaged).running
    assert found is not None
    assert found.burning_badly == (3,)
    assert found.lines[0].words in order.confidence
    assert any("10" in sentence for sentence in order.tests_done)
    outcome = client_for(by).get(reverse("jobs:outcome-edit", args=[triaged.pk]))
    assert 'value="verification"' in outcome.content.decode()
    before = idling_for_customer(triaged)
    assert "10 %" in before
    again = idle_of(triaged, EVEN)
    tie = VisitCapture.objects.get(capture=again.capture_id)
    capture_purpose_set(tie=tie, member=by, purpose=VisitCapture.Purpose.VERIFICATION)
    tie.refresh_from_db()
    assert tie.purpose == VisitCapture.Purpose.RUNNING_AFTER
    after = idling_for_customer(triaged)
    assert after.startswith(before)
    assert "100 %" in after
    outcome = client_for(by).get(reverse("jobs:outcome-edit", args=[triaged.pk]))
    assert 'id="beside"' in outcome.content.decode()
    # it stands with what was made after the repair, and changes nothing of before
    work = visit_work(by, triaged)
    assert work.running is not None
    assert work.running.weak == (3,)
    assert work.running_after is not None
    assert work.running_after.is_judged_even
    # and asks for no cranking test, which would prove nothing
    assert [(line.kind, line.cylinders) for line in work.running_after.lines] == [
        (Beside.ADDS_AGAIN, (3,))
    ]
