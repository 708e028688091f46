"""The guided plan of a job: its evidence from what is on record, and what the plan makes of it."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import nan
from types import EllipsisType

from engines.core.layouts import Family
from engines.selectors import access_minutes
from jobs.core.distance import to_km
from jobs.core.frame_figures import frame_figures
from jobs.core.patterns import Pattern, patterns_in
from jobs.core.plan import (
    Compression,
    Costs,
    EngineFacts,
    Evidence,
    Plan,
    Said,
    facts_that_matter,
    plan_for,
)
from jobs.core.plan.evidence import CompressionResult
from jobs.core.stages import Stage
from jobs.models import (
    Complaint,
    FreezeFrame,
    Judgement,
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
from jobs.selectors.consents import order_made
from jobs.selectors.cranked_warm import cranked_at, judged_runs, warmest_even
from jobs.selectors.diagnosis_records import counts_tabled, swaps_made, tests_made
from jobs.selectors.in_cylinder import cylinders_in_turn, in_cylinder_evidence
from jobs.selectors.learnt_minutes import learnt_on
from jobs.selectors.misfires import misfires_of
from jobs.selectors.patterns import circumstances_of, seen_in
from jobs.selectors.running import RunningBeside, idle_balance, running_beside
from jobs.selectors.work import VisitWork
from traces.core.report import Report, is_high, is_uncertain, weaker_cylinders
from traces.models import Run

FRESH_PLUGS_KM = 2_000
"""Plugs that have run no further were changed lately: the ignition was worked on."""
RECENT_DAYS, RECENT_KM = 365, 15_000
"""A job done since then may be what the trouble comes from (chosen by judgement)."""
_TELLS_WHEN = re.compile(r"P030|P031|P017")
"""Codes of a misfire or the mixture: another one is stored when something else happens."""


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
    if judgement is None and not work.judged and work.in_turn is None:
        return None
    rows = (*work.captures, *work.proofs, *work.idling, *work.pressures)
    found = plan_of(visit, rows, work.running)
    return found if found.is_wanted and found.plan.knows_anything else None


def plan_to_decide(visit: Visit, run: Run | None) -> Plan | None:
    """Return the plan beside a run that is to be signed; None where it names a weak cylinder."""
    if run is not None and run.verdict == "uneven":
        return None
    evidence = evidence_of(visit, run, None)
    plan = plan_for(evidence, costs_of(visit, run))
    return plan if _is_wanted(None, evidence) and plan.knows_anything else None


def run_shown(visit: Visit) -> Run | None:
    """Return the run to plan by while nothing is signed: an uneven one, else the newest judged.

    An older analysis of a capture never counts before its newest.
    """
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
    triage = Triage.objects.filter(visit=visit).select_related("visit__complaint").first()
    complaint = getattr(triage.visit, "complaint", None) if triage else _complaint_of(visit)
    misfires = misfires_of(visit, run)
    on = circumstances_of(visit, run, fuel_of(visit, run))
    beyond = judgement is not None and judgement.is_beyond_compression
    cranked = cranked_at(visit, run)
    happens = frozenset(complaint.happens) if complaint else frozenset()
    is_unfelt = bool(triage and triage.verified == "no")
    # what happens all the time is not looked for in a frame
    is_asked = is_unfelt or (bool(misfires.codes) and "always" not in happens)
    frames = list(visit.freeze_frames.filter(replaced_by=None)) if is_asked else []
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
        counts=counts_tabled(visit) or misfires.counts,
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
        in_cylinder=in_cylinder_evidence(cylinders_in_turn(visit, rows)),
        patterns=frozenset(r.pattern for r in patterns_in(seen)) - {Pattern.NONE},
        cranks=triage.cranks if triage else "",
        verified=triage.verified if triage else "",
        happens=happens,
        said=_said(visit, triage, loses_coolant=on.loses_coolant),
        done=tests_made(visit, cranked),
        swaps=swaps_made(visit),
        named=frozenset(judgement.cylinders) if judgement and beyond else frozenset(),
        is_refused_for_timing=on.is_refused_for_timing,
        # asked for only where nobody felt it
        has_frame=bool(frames),
        frames=_frames_that_tell(frames),
    )


def _complaint_of(visit: Visit) -> Complaint | None:
    return Complaint.objects.filter(visit=visit).first()


def _frames_that_tell(frames: Iterable[FreezeFrame]) -> tuple[Mapping[str, float], ...]:
    """Return what the frames of a misfire, of the mixture or of no named code hold."""
    told = (f for f in frames if not f.code or _TELLS_WHEN.match(f.code))
    return tuple(figures for f in told if (figures := frame_figures(f.rows)))


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
