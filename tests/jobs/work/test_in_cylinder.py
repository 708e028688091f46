"""Pressures in the cylinders on a job: measured in turn, signed by name, ordered, told."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from jobs.core.in_cylinder import InTurn
from jobs.core.plan import NOT_MEASURED, Costs, plan_for
from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import cranked_runs
from jobs.selectors.decision import run_to_decide
from jobs.selectors.in_cylinder import (
    CylindersInTurn,
    cylinders_in_turn,
    earlier_of,
    measured_for_customer,
)
from jobs.selectors.learning import checked_calls
from jobs.selectors.plan import evidence_of
from jobs.selectors.work import visit_work
from jobs.services.captures import capture_aside
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_create
from shopdiag.people.models import Member
from tests.conftest import Cast
from traces.core.findings import finding
from traces.core.report import (
    PRESSURE,
    Interval,
    PressureCurve,
    PressureFigures,
    PressureState,
    Report,
    ReportParts,
)
from traces.models import Run
from traces.services import run_add

EVEN = {1: 1.0, 2: 0.99, 3: 1.0, 4: 1.01}


def about(value: float, half: float) -> Interval:
    return Interval(value, value - half, value + half)


def figures(
    cylinder: int, peak: float, loss: float, *, back: float = 2.0, state: PressureState = "cranking"
) -> PressureFigures:
    """Return figures of one cylinder; what no test asks for is that of a usual one."""
    return PressureFigures(
        state=state,
        cylinder=cylinder,
        rpm=220.0,
        cycles=8,
        missed=0,
        zero_from="rest",
        air_kpa=101.3,
        is_air_known=False,
        compression_ratio=10.5,
        is_ratio_known=True,
        peak_kpa=about(peak, 8.0),
        peaks_kpa=(peak,) * 8,
        peak_spread_percent=0.6,
        towers="alike",
        loss_deg=about(1.2, 0.8),
        compression_exponent=about(1.28, 0.02),
        expansion_exponent=about(1.34, 0.02),
        leg_loss_percent=about(12.0, 3.0),
        loss_per_s=about(loss, 0.3),
        pocket_kpa=about(-40.0, 2.0),
        exhaust_opens_deg=about(150.0, 4.0),
        back_pressure_kpa=about(back, 1.5),
        back_pressure_high_kpa=about(back + 3, 1.5),
        exchange_begins_deg=None,
        exchange_deg=None,
        exchange_ends_deg=None,
        intake_kpa=about(-3.0, 1.0),
        intake_closes_deg=about(590.0, 6.0),
        exhaust_opens_before_bottom_deg=30.0,
        intake_closes_after_bottom_deg=50.0,
        curve=PressureCurve(-180.0, 2.0, (0.0,) * 361),
    )


@pytest.fixture
def pressure_of(run_of: Callable[..., Run]) -> Callable[..., Run]:
    """Give a visit a capture of one cylinder's pressure, with known figures."""

    def make(
        visit: Visit, cylinder: int, peak: float, loss: float, *codes: str, **given: Any
    ) -> Run:
        purpose = given.pop("purpose", VisitCapture.Purpose.PRESSURE)
        run = run_of(visit, EVEN, purpose=purpose)
        report = Report(
            verdict="measured",
            method=PRESSURE,
            cycles=8,
            findings=tuple(
                finding("back-pressure", value="45", low="43", high="47")
                if code == "back-pressure"
                else finding("leg-loss", value="40")
                for code in codes
            ),
            parts=ReportParts(pressure=figures(cylinder, peak, loss, **given)),
        )
        settings = run.setup.settings | {"signal": "cylinder-pressure", "sync": None}
        type(run.setup).objects.filter(pk=run.setup_id).update(settings=settings)
        Run.objects.filter(pk=run.pk).update(verdict="measured", result=report.to_json())
        return Run.objects.get(pk=run.pk)

    return make


def kinds(found: CylindersInTurn | None) -> list[tuple[InTurn, tuple[int, ...]]]:
    assert found is not None
    return [(line.kind, line.cylinders) for line in found.lines]


def test_cylinders_measured_in_turn_are_one_comparison(
    triaged: Visit, run_of, pressure_of, by: Member
) -> None:
    cranked = run_of(triaged, EVEN | {3: 0.6})
    for cylinder, peak, loss in ((1, 1200.0, 3.0), (2, 1190.0, 3.1), (3, 740.0, 7.0)):
        pressure_of(triaged, cylinder, peak, loss)
    found = cylinders_in_turn(triaged)
    assert kinds(found) == [(InTurn.LEAK, (3,))]
    assert found is not None
    rows = {one.measured.cylinder: one for one in found.cylinders}
    share = rows[3].measured.share
    assert share is not None
    assert share.relative == pytest.approx(740.0 / 1195.0, abs=0.01)
    # which loses most is sure, which of the others does is not
    assert [rows[c].order for c in (1, 2, 3)] == [3, 2, 1]
    assert [rows[c].is_order_sure for c in (2, 3)] == [False, True]
    # no pressure is taken for a crank
    assert run_to_decide(triaged) == cranked
    work = visit_work(by, triaged)
    assert (len(work.captures), len(work.pressures), len(work.idling)) == (1, 3, 0)
    assert list(cranked_runs(triaged)) == [cranked]


def test_one_that_fills_less_is_no_leak(triaged: Visit, pressure_of) -> None:
    pressure_of(triaged, 1, 1200.0, 3.0)
    pressure_of(triaged, 2, 800.0, 3.0)
    pressure_of(triaged, 4, 1190.0, 3.1)
    assert kinds(cylinders_in_turn(triaged)) == [(InTurn.LOW, (2,))]


def test_one_alone_compares_with_nothing(triaged: Visit, pressure_of) -> None:
    assert cylinders_in_turn(triaged) is None
    pressure_of(triaged, 2, 1200.0, 3.0)
    assert kinds(cylinders_in_turn(triaged)) == [(InTurn.ALONE, (2,))]
    pressure_of(triaged, 3, 1210.0, 3.0)
    assert kinds(cylinders_in_turn(triaged)) == [(InTurn.ALIKE, (2, 3))]


def test_what_speaks_against_the_figures_is_said(triaged: Visit, run_of, pressure_of) -> None:
    run_of(triaged, EVEN | {1: 0.5})
    first = pressure_of(triaged, 2, 1200.0, 3.0)
    pressure_of(triaged, 1, 1190.0, 3.0)
    # weak while cranking, and as good as the other by its pressure
    assert (InTurn.CONTRADICTION, (1,)) in kinds(cylinders_in_turn(triaged))
    pressure_of(triaged, 2, 900.0, 3.0)
    found = cylinders_in_turn(triaged)
    assert (InTurn.DISAGREE, (2,)) in kinds(found)
    assert measured_for_customer(triaged) == ""
    tie = VisitCapture.objects.get(capture=first.capture_id)
    capture_aside(tie=tie, member=tie.capture.uploaded_by, why="Hose leaked.")
    assert InTurn.DISAGREE not in dict(kinds(cylinders_in_turn(triaged)))


def test_a_cranked_and_an_idling_cylinder_are_not_compared(triaged: Visit, pressure_of) -> None:
    pressure_of(triaged, 1, 1200.0, 3.0)
    pressure_of(triaged, 2, 1200.0, 3.0)
    pressure_of(triaged, 3, 600.0, 3.0, state="running")
    found = cylinders_in_turn(triaged)
    assert kinds(found) == [(InTurn.ALIKE, (1, 2))]
    assert found is not None
    assert len(found.others) == 1


def test_no_verdict_is_accepted_on_it_and_a_named_cylinder_is_signed(
    triaged: Visit, run_of, pressure_of, by: Member, client_for: Callable[[Member], Client]
) -> None:
    run_of(triaged, EVEN)
    low = [pressure_of(triaged, c, p, loss) for c, p, loss in ((1, 1200.0, 3.0), (3, 700.0, 8.0))]
    for kind, mechanical in (("accepted", "no"), ("overruled", "yes")):
        with pytest.raises(ValidationError):
            judgement_sign(
                visit=triaged,
                member=by,
                run=low[1],
                kind=kind,
                mechanical=mechanical,
                cylinders=[3],
                reason="By its pressure.",
            )
    client = client_for(by)
    page = client.get(reverse("jobs:capture", args=[low[1].capture_id]))
    assert 'id="in-turn"' in page.content.decode()
    assert "accept" not in page.context
    decide = client.get(reverse("jobs:decide", args=[triaged.pk]) + "?pressure")
    own = decide.context["own"]
    assert own["chosen"].value() == [3]
    assert own["mechanical"].value() == "yes"
    assert own["kind"].value() == "without"
    signed = judgement_sign(
        visit=triaged,
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[3],
        reason=own["reason"].value(),
    )
    order = work_order_create(judgement=signed, member=by)
    found = cylinders_in_turn(triaged)
    assert found is not None
    assert found.lines[0].words in order.confidence
    assert sum("kPa" in sentence for sentence in order.tests_done) == 2
    assert checked_calls(by) == []


def test_a_blocked_exhaust_before_and_after_the_repair(
    triaged: Visit, run_of, pressure_of, by: Member, client_for: Callable[[Member], Client]
) -> None:
    cranked = run_of(triaged, EVEN)
    before = pressure_of(triaged, 1, 800.0, 3.0, "back-pressure", back=45.0)
    assert kinds(cylinders_in_turn(triaged)) == [(InTurn.EXHAUST, (1,))]
    decide = client_for(by).get(reverse("jobs:decide", args=[triaged.pk]) + "?pressure")
    assert decide.context["own"]["fault_group"].value() == "exhaust"
    judgement_sign(
        visit=triaged,
        member=by,
        run=cranked,
        kind="accepted",
        mechanical="no",
        fault_group="exhaust",
        cylinders=[],
    )
    after = pressure_of(
        triaged, 1, 800.0, 3.0, back=4.0, purpose=VisitCapture.Purpose.PRESSURE_AFTER
    )
    found = cylinders_in_turn(triaged, after_repair=True)
    assert kinds(found) == [(InTurn.CLEARED, (1,))]
    told = measured_for_customer(triaged)
    assert "45" in told
    assert "4 kPa" in told
    # each is laid beside the other, and the job shows both
    assert [one.run for one in earlier_of(after)] == [before]
    assert [one.run for one in earlier_of(before)] == [after]
    job = client_for(by).get(reverse("jobs:visit", args=[triaged.pk])).content.decode()
    assert 'id="in-turn-after"' in job
    answer = client_for(by).get(reverse("jobs:customer-copy", args=[triaged.pk]))
    assert "4 kPa" in answer.content.decode()


def test_the_plan_takes_it_up(triaged: Visit, run_of, pressure_of) -> None:
    cranked = run_of(triaged, EVEN)
    assert evidence_of(triaged, cranked, None).in_cylinder == NOT_MEASURED
    pressure_of(triaged, 1, 800.0, 3.0, "back-pressure", back=45.0)
    evidence = evidence_of(triaged, cranked, None)
    assert evidence.in_cylinder.is_exhaust_blocked
    assert plan_for(evidence, Costs()).leading[0].key == "exhaust_blocked"


def test_the_set_up_says_that_it_is_one_cylinder(triaged: Visit, run_of, by: Member) -> None:
    run = run_of(triaged, EVEN)
    analysis = replace(run.setup.analysis, rate_hz=2000.0, signal="cylinder-pressure", sync=None)
    run_add(member=by, capture=run.capture, analysis=analysis)
    tie = VisitCapture.objects.get(capture=run.capture_id)
    assert tie.purpose == VisitCapture.Purpose.PRESSURE
    # what was found of the crank is no result of it any more
    assert run_to_decide(triaged) is None


def test_another_shop_sees_nothing_of_it(
    triaged: Visit, pressure_of, cast: Cast, client_for: Callable[[Member], Client]
) -> None:
    run = pressure_of(triaged, 1, 1200.0, 3.0)
    stranger = client_for(cast.outsider)
    assert stranger.get(reverse("jobs:capture", args=[run.capture_id])).status_code == 404


def test_doubted_pressures_reach_neither_the_customer_nor_the_plan(
    triaged: Visit, run_of, pressure_of
) -> None:
    for cylinder, peak, loss in ((1, 1200.0, 3.0), (2, 1190.0, 3.1), (3, 600.0, 7.0)):
        pressure_of(triaged, cylinder, peak, loss)
    assert "3" in measured_for_customer(triaged)
    # the crank says of the same cylinder that it is as good as the others
    cranked = run_of(triaged, EVEN)
    assert (InTurn.CONTRADICTION, (3,)) in kinds(cylinders_in_turn(triaged))
    assert measured_for_customer(triaged) == ""
    assert evidence_of(triaged, cranked, None).in_cylinder == NOT_MEASURED


@pytest.mark.parametrize(("state", "is_free"), [("cranking", False), ("running", True)])
def test_only_an_engine_that_runs_shows_a_free_exhaust(
    triaged: Visit, run_of, pressure_of, state: PressureState, is_free: bool
) -> None:
    cranked = run_of(triaged, EVEN)
    pressure_of(triaged, 1, 800.0, 3.0, back=2.0, state=state)
    assert evidence_of(triaged, cranked, None).in_cylinder.is_exhaust_free is is_free
