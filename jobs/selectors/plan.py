"""The guided plan of a job: its evidence from what is on record, and what the plan makes of it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import nan
from types import EllipsisType
from typing import cast

from django.db.models import Q

from engines.core.layouts import Family
from engines.selectors import access_minutes
from jobs.core.distance import to_km
from jobs.core.measured_tests import Limit
from jobs.core.patterns import Pattern, patterns_in
from jobs.core.plan import (
    Compression,
    Costs,
    EngineFacts,
    Evidence,
    Plan,
    Said,
    SwapDone,
    TestDone,
    facts_that_matter,
    plan_for,
)
from jobs.core.plan.evidence import CompressionResult, Figure, SwapPart
from jobs.core.plan.held import READ_BY_LIMITS
from jobs.core.stages import Stage
from jobs.models import (
    Complaint,
    CylinderFinding,
    Judgement,
    SwapTest,
    Triage,
    Vehicle,
    Visit,
    VisitCapture,
    WorkOrder,
)
from jobs.selectors.captures import (
    CaptureRow,
    capture_rows,
    engine_of,
    fuel_of,
    high_in,
    latest_judgement,
)
from jobs.selectors.consents import is_of_repair, order_made
from jobs.selectors.cranked_warm import CrankedAt, cranked_at, judged_runs, warmest_even, was_warm
from jobs.selectors.learnt_minutes import learnt_on
from jobs.selectors.misfires import counts_standing, misfires_of
from jobs.selectors.patterns import circumstances_of, seen_in
from jobs.selectors.running import RunningBeside, idle_balance, running_beside
from jobs.selectors.typed_findings import limits_of, typed_test_of
from jobs.selectors.work import VisitWork
from traces.core.report import Report, is_high, is_uncertain, weaker_cylinders
from traces.models import Run

FRESH_PLUGS_KM = 2_000
"""Plugs that have run no further were changed lately: the ignition was worked on."""
RECENT_DAYS, RECENT_KM = 365, 15_000
"""A job done since then may be what the trouble comes from (chosen by judgement)."""
_FIGURES = (
    *("leak_percent", "heard_at", "first_puff_kpa", "pressure_kpa"),
    *("idle_kpa", "snap_kpa"),
)


@dataclass(frozen=True, slots=True)
class PlanOfJob:
    """The plan of a visit, and what it was made from.

    Parameters
    ----------
    is_wanted
        Whether it helps where the job stands: nothing settles what is wrong.
    is_access_timed
        Whether its minutes hold what it takes to reach the plugs.
    """

    plan: Plan
    run: Run | None
    judgement: Judgement | None
    is_wanted: bool
    made_from: tuple[Evidence, Costs]
    is_access_timed: bool = False

    @property
    def asks(self) -> tuple[str, ...]:
        """What nobody noted of the engine though it changes what comes next."""
        return facts_that_matter(*self.made_from)


def plan_of(
    visit: Visit,
    rows: Sequence[CaptureRow] | None = None,
    running: RunningBeside | EllipsisType | None = ...,
) -> PlanOfJob:
    """Return the plan of a visit by all on record of its diagnosis.

    `rows` and `running` spare a reading.
    """
    judgement = latest_judgement(visit)
    run = judgement.run if judgement else run_shown(visit)
    evidence, costs = evidence_of(visit, run, judgement, rows, running), costs_of(visit, run)
    return PlanOfJob(
        plan=plan_for(evidence, costs),
        run=run,
        judgement=judgement,
        is_wanted=_is_wanted(judgement, evidence),
        made_from=(evidence, costs),
        is_access_timed=bool(costs.access_minutes),
    )


def plan_signed(judgement: Judgement) -> Plan:
    """Return the plan by a verdict and all that is on record of its job."""
    visit, run = judgement.visit, judgement.run
    return plan_for(evidence_of(visit, run, judgement), costs_of(visit, run))


def plan_beside(visit: Visit, work: VisitWork) -> PlanOfJob | None:
    """Return the plan as the job's page shows it; None where nothing is left to be found."""
    judgement = work.judgement
    is_compression = judgement is not None and judgement.mechanical == Judgement.Mechanical.YES
    is_over = visit.stage_enum in {Stage.VERIFY, Stage.HAND_BACK, Stage.CLOSED} or work.proofs
    if is_compression or is_over or (work.consent is not None and work.consent.agreed):
        return None
    if judgement is None and not work.judged:
        return None
    found = plan_of(visit, (*work.captures, *work.proofs, *work.idling), work.running)
    return found if found.is_wanted and found.plan.knows_anything else None


def plan_to_decide(visit: Visit, run: Run | None) -> Plan | None:
    """Return the plan beside a run that is to be signed; None where it names a weak cylinder."""
    if run is not None and run.verdict == "uneven":
        return None
    evidence = evidence_of(visit, run, None)
    plan = plan_for(evidence, costs_of(visit, run))
    return plan if _is_wanted(None, evidence) and plan.knows_anything else None


def run_shown(visit: Visit) -> Run | None:
    """Return the run to plan by while nothing is signed: an uneven one, else the newest judged."""
    return judged_runs(visit).order_by("-verdict", "-pk").first()


def _captures(visit: Visit, run: Run | None) -> int:
    """Return how many recordings of the diagnosis name the same cylinders as a run does."""
    named = _named_by(run)
    if not any(named) or judged_runs(visit).order_by().values("capture").distinct().count() < 2:
        return 1
    agreeing = [
        row
        for row in capture_rows(visit, signed=run)
        if row.same_as is None
        and not row.tie.is_aside
        and row.tie.purpose == VisitCapture.Purpose.DIAGNOSIS
        and _named_by(row.run) == named
    ]
    return max(1, len(agreeing))


def _named_by(run: Run | None) -> tuple[frozenset[int], frozenset[int], frozenset[int]]:
    """Return the low and the high cylinders and those of the weaker bank, as a run names them."""
    report = run.report if run else None
    return _low(report, None), frozenset(high_in(run)), frozenset(weaker_cylinders(report))


def costs_of(visit: Visit, run: Run | None) -> Costs:
    """Return what tests take on the visit's engine."""
    engine = engine_of(visit, run)
    return Costs(
        access_minutes=access_minutes(visit.shop, engine), learnt=learnt_on(visit.shop, engine)
    )


def evidence_of(
    visit: Visit,
    run: Run | None,
    judgement: Judgement | None,
    rows: Sequence[CaptureRow] | None = None,
    running: RunningBeside | EllipsisType | None = ...,
) -> Evidence:
    """Return what is known of a visit's engine, by its run and what was signed of it."""
    report = run.report if run else None
    low = _low(report, judgement)
    seen = seen_in(visit, run, low)
    engine = engine_of(visit, run)
    fuel = Vehicle.Fuel.GAS if visit.vehicle.fuel == Vehicle.Fuel.GAS else fuel_of(visit, run)
    complaint = Complaint.objects.filter(visit=visit).first()
    triage = Triage.objects.filter(visit=visit).first()
    misfires = misfires_of(visit, run)
    on = circumstances_of(visit, run, fuel_of(visit, run))
    beyond = judgement is not None and judgement.is_beyond_compression
    cranked = cranked_at(visit, run)
    return Evidence(
        engine=EngineFacts.of(
            seen.order,
            seen.places,
            is_flat=engine is not None and engine.layout_kind.family is Family.FLAT,
        ),
        fuel=fuel,
        ignition=visit.vehicle.coils or (engine.coils if engine else ""),
        injection=visit.vehicle.injection or (engine.injection if engine else ""),
        codes=tuple(misfires.codes),
        counts=_counts_tabled(visit) or misfires.counts,
        compression=_compression(
            report,
            low,
            seen.high,
            judgement,
            captures=_captures(visit, run),
            temperature=warmest_even(cranked, run),
        ),
        idle=idle_balance(
            running_beside(visit, rows, signed=judgement) if running is ... else running
        ),
        patterns=frozenset(r.pattern for r in patterns_in(seen)) - {Pattern.NONE},
        cranks=triage.cranks if triage else "",
        verified=triage.verified if triage else "",
        happens=frozenset(complaint.happens) if complaint else frozenset(),
        said=_said(visit, triage, loses_coolant=on.loses_coolant),
        done=tests_made(visit, cranked),
        swaps=swaps_made(visit),
        named=frozenset(judgement.cylinders) if judgement and beyond else frozenset(),
        is_refused_for_timing=on.is_refused_for_timing,
        # asked for only where nobody felt it
        has_frame=bool(triage and triage.verified == "no") and visit.freeze_frames.exists(),
    )


def _low(report: Report | None, judgement: Judgement | None) -> frozenset[int]:
    """Return the cylinders that count as low: as signed, else as the report leaves them open."""
    if judgement is not None:
        is_fault = not judgement.is_beyond_compression
        return frozenset(judgement.cylinders) if is_fault else frozenset()
    if report is None or report.verdict != "uneven":
        return frozenset()
    return frozenset(c for one in report.candidates for c in one)


def _compression(
    report: Report | None,
    low: Collection[int],
    high: frozenset[int],
    judgement: Judgement | None,
    *,
    captures: int,
    temperature: str,
) -> Compression:
    figures = {e.cylinder: e.relative for e in report.estimates} if report else {}
    return Compression(
        result=_result(report, low, judgement),
        weak={c: figures.get(c, nan) for c in sorted(low)},
        high=high,
        weaker_bank=frozenset(weaker_cylinders(report)),
        captures=captures,
        temperature=temperature,
    )


def _result(
    report: Report | None, low: Collection[int], judgement: Judgement | None
) -> CompressionResult:
    if report is None or report.verdict == "not judged":
        return "weak" if low else "none" if report is None else "not_judged"
    if low:
        is_settled = judgement is not None or len([c for c in report.candidates if c]) < 2
        return "weak" if is_settled else "open"
    if is_high(report):
        return "high"
    if weaker_cylinders(report):
        return "bank"
    # a person said that an uneven capture shows no fault: no stronger than an unsure one
    is_sure = report.verdict == "even" and not is_uncertain(report)
    return "even" if is_sure else "even_as_far"


def _said(visit: Visit, triage: Triage | None, *, loses_coolant: bool) -> Said:
    """Return what the initial checks say; coolant also by the complaint's words."""
    if triage is None:
        return Said(coolant_loss=loses_coolant or None)
    plugs_age_km = triage.plugs_age_km
    return Said(
        oil_level=triage.oil_level,
        oil_loss=_yes(triage.oil_loss),
        coolant_level=triage.coolant_level,
        coolant_loss=loses_coolant or _yes(triage.coolant_loss),
        fuel_in_oil=_yes(triage.fuel_in_oil),
        timing_work=_is_recent(
            visit, triage.timing_work, triage.timing_work_odometer, triage.timing_work_on
        ),
        fuel_work=_is_recent(
            visit, triage.fuel_work, triage.fuel_work_odometer, triage.fuel_work_on
        ),
        ignition_work=plugs_age_km is not None and plugs_age_km <= FRESH_PLUGS_KM,
        plugs_age_km=plugs_age_km,
    )


def _yes(answer: str) -> bool | None:
    return None if not answer else answer == Triage.YesNo.YES


def _is_recent(visit: Visit, words: str, odometer: int | None, on: date | None) -> bool:
    """Return whether a job was done lately; one that nobody dated counts as such."""
    if not words:
        return False
    if on is not None:
        return (visit.opened_at.date() - on).days <= RECENT_DAYS
    if odometer is not None and visit.odometer is not None:
        since_km = to_km(visit.odometer - odometer, visit.shop.distance_unit)
        return since_km <= RECENT_KM
    return True


def tests_made(visit: Visit, cranked: Sequence[CrankedAt]) -> tuple[TestDone, ...]:
    """Return the tests of the diagnosis that stand, as the plan reads them."""
    orders = orders_of_diagnosis(visit)
    findings = CylinderFinding.objects.filter(work_order__in=orders, replaced_by=None)
    by_pk = {order.pk: order for order in orders}
    limits: dict[tuple[int, str], Mapping[str, Limit]] = {}
    made = []
    # a bank that the scan tool does not report was asked for; it must not be asked for again
    is_made = ~Q(outcome=CylinderFinding.Outcome.NOT_DONE) | Q(bank__isnull=False)
    for finding in findings.filter(is_made).order_by("pk"):
        key = (finding.work_order_id, finding.test)
        if key not in limits:
            limits[key] = _limits_in_force(by_pk[finding.work_order_id], finding.test)
        made.append(
            TestDone(
                test=finding.test,
                outcome=finding.outcome,
                cylinder=finding.cylinder,
                bank=finding.bank,
                figures=_figures(finding),
                limits=limits[key],
                is_warm=was_warm(finding, by_pk[finding.work_order_id], cranked),
            )
        )
    return tuple(made)


def _limits_in_force(order: WorkOrder, test: str) -> Mapping[str, Limit]:
    """Return the limits of a test that the plan reads by its figures; none of any other."""
    entry = typed_test_of(order, test) if test in READ_BY_LIMITS else None
    return limits_of(order, entry) if entry else {}


def _counts_tabled(visit: Visit) -> dict[int, int]:
    """Return misfires by cylinder as a work order's table counts them.

    Empty where fewer than two cylinders were counted, which compares nothing, or where the initial
    checks hold a newer reading.
    """
    counted = CylinderFinding.objects.filter(
        work_order__in=orders_of_diagnosis(visit),
        replaced_by=None,
        test=CylinderFinding.Test.COUNTS,
        cylinder__isnull=False,
        figures__misfires__isnull=False,
    ).exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
    rows = list(counted.order_by("pk"))
    # one order is one reading: what two of them count was counted over different drives
    newest = [row for row in rows if row.work_order_id == rows[-1].work_order_id]
    counts = {row.cylinder: int((row.figures or {})["misfires"]) for row in newest if row.cylinder}
    reading = counts_standing(visit)
    is_newer = bool(newest) and (reading is None or newest[-1].at > reading.at)
    return counts if is_newer and len(counts) > 1 else {}


def swaps_made(visit: Visit) -> tuple[SwapDone, ...]:
    """Return the swap tests of the diagnosis."""
    swaps = SwapTest.objects.filter(work_order__in=orders_of_diagnosis(visit))
    return tuple(
        SwapDone(cast("SwapPart", s.part), s.from_cylinder, s.to_cylinder, s.followed)
        for s in swaps
    )


def orders_of_diagnosis(visit: Visit) -> list[WorkOrder]:
    """Return the orders whose findings tell of the engine as it came."""
    orders = list(visit.work_orders.select_related("judgement", "last_answer"))
    return [order for order in orders if not is_of_repair(order, orders)]


def _figures(finding: CylinderFinding) -> Mapping[str, Figure]:
    known = {name: getattr(finding, name) for name in _FIGURES} | (finding.figures or {})
    return {name: value for name, value in known.items() if value not in {None, ""}}


def _is_wanted(judgement: Judgement | None, evidence: Evidence) -> bool:
    """Return whether a plan helps: the verdict names no compression fault, or none is signed."""
    if judgement is not None:
        return judgement.mechanical != Judgement.Mechanical.YES
    knows = bool(evidence.codes or evidence.counts or evidence.happens)
    return evidence.compression.result != "none" or knows


def may_order_from(visit: Visit, judgement: Judgement | None) -> bool:
    """Return whether a work order can be made now from what is signed."""
    if judgement is None or visit.stage == Stage.CLOSED or order_made(judgement) is not None:
        return False
    return not visit.work_orders.filter(state__in=WorkOrder.OPEN_STATES).exists()
