"""How the analysis' calls fared on the shop's own engines, and what the causes were."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from engines.models import Engine
from jobs.core.groups import GROUP_LABELS, FaultGroup
from jobs.core.learning import (
    GAUGE_TESTS,
    LEAST_CHECKED,
    CallChecked,
    CauseCount,
    HitRate,
    JobFinished,
    calls_checked,
    cause_counts,
    hit_rate,
    hit_rates,
)
from jobs.core.learning_words import confirmed_line
from jobs.core.stages import Stage
from jobs.core.verdict_checks import Measured, cylinders_tested
from jobs.models import CylinderFinding, Judgement, Outcome, Visit, VisitCapture
from jobs.selectors.captures import as_counted
from jobs.selectors.verdict_checks import (
    findings_on_cylinders,
    of_diagnosis,
    verdict_checked,
)
from jobs.selectors.visit_records import records_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from traces.core.report import HIGH_FROM
from traces.core.signals import shown_as
from traces.models import Run, Work

MOST_VISITS = 400
"""How many of the newest jobs are looked at, so that the page stays quick in an old shop."""
MOST_BESIDE = 60
"""How many for the line beside a verdict, which stands on pages that are opened all day: more
cylinders than make its interval any narrower to speak of."""

_JUDGED = ("even", "uneven")


@dataclass(frozen=True, slots=True)
class RateRow:
    """How calls fared of one engine or one signal."""

    label: str
    rate: HitRate


@dataclass(frozen=True, slots=True)
class CauseRow:
    """How often one engine had one cause."""

    engine: str
    group: str
    count: CauseCount


@dataclass(frozen=True, slots=True)
class Learning:
    """What a shop learnt from its own results."""

    overall: HitRate
    engines: tuple[RateRow, ...]
    signals: tuple[RateRow, ...]
    both: tuple[tuple[str, str, HitRate], ...]
    """Engine, signal and their rate, for programs and spreadsheets."""
    causes: tuple[CauseRow, ...]
    finished: int
    """How many jobs were delivered."""


def learning_of(member: Member) -> Learning:
    """Return what the member's shop learnt; nothing of another shop counts."""
    checked = checked_calls(member)
    jobs = finished_jobs(member)
    names = _engine_names([*(c.engine for c in checked), *(j.engine for j in jobs)])
    by_engine = hit_rates(checked, lambda call: call.engine)
    by_signal = hit_rates(checked, lambda call: call.signal)
    by_both = hit_rates(checked, lambda call: (call.engine, call.signal))
    return Learning(
        overall=hit_rate(checked),
        engines=tuple(RateRow(names[engine], rate) for engine, rate in by_engine.items()),
        signals=tuple(RateRow(shown_as(one).name, rate) for one, rate in by_signal.items()),
        both=tuple(
            (names[engine], shown_as(signal).name, rate)
            for (engine, signal), rate in by_both.items()
        ),
        causes=tuple(
            CauseRow(names[count.engine], _(GROUP_LABELS[FaultGroup(count.group)]), count)
            for count in cause_counts(jobs)
        ),
        finished=len({job.visit for job in jobs}),
    )


def learned_line(member: Member, visit: Visit, run: Run | None) -> str:
    """Return how calls like this capture's fared here; empty where too few were checked.

    Those of this engine and signal count, or else those of any engine; the visit's own do not. Of
    either the newest jobs are looked at.
    """
    if run is None or run.verdict not in _JUDGED or not member.may(Action.SEE_LEARNING):
        return ""
    signal = run.setup.analysis.signal
    engine = run.setup.engine_id or visit.vehicle.engine_id
    is_uneven = run.verdict == "uneven"
    if engine:
        own = hit_rate(
            c
            for c in checked_calls(member, but=visit, engine=engine, most=MOST_BESIDE)
            if c.signal == signal and c.engine == engine
        )
        if (own.suspect if is_uneven else own.sound).total >= LEAST_CHECKED:
            return confirmed_line(own, is_uneven=is_uneven, on_this_engine=True)
    known = checked_calls(member, but=visit, most=MOST_BESIDE)
    of_any = hit_rate(c for c in known if c.signal == signal)
    return confirmed_line(of_any, is_uneven=is_uneven, on_this_engine=False)


def checked_calls(
    member: Member,
    but: Visit | None = None,
    *,
    engine: int | None = None,
    most: int = MOST_VISITS,
) -> list[CallChecked]:
    """Return the calls that gauge or leak-down checked before the repair, `but` those of a visit.

    The run is that of the verdict that sent the mechanic to the engine; where that was signed
    without one, the newest that was judged of the diagnosis.

    Parameters
    ----------
    engine
        Of jobs whose vehicle has it or that were judged as it; None for those of any.
    most
        How many of the newest jobs are looked at.
    """
    measured = (
        CylinderFinding.objects.filter(
            work_order__visit__shop_id=member.shop_id,
            test__in=GAUGE_TESTS,
            outcome__in=(CylinderFinding.Outcome.GOOD, CylinderFinding.Outcome.BAD),
            cylinder__isnull=False,
            replaced_by=None,
        )
        .order_by("-work_order__visit_id")
        .values_list("work_order__visit_id", flat=True)
        .distinct()
    )
    if engine is not None:
        judged_as = Run.objects.filter(
            setup__engine=engine, capture__visit_capture__visit__shop_id=member.shop_id
        )
        measured = measured.filter(
            Q(work_order__visit__vehicle__engine=engine)
            | Q(work_order__visit__in=judged_as.values("capture__visit_capture__visit"))
        )
    newest = [pk for pk in measured[: most + 1] if but is None or pk != but.pk]
    if not newest:
        return []
    visits = Visit.objects.seen_by(member).filter(pk__in=newest[:most])
    records, findings = records_of(visits), findings_on_cylinders(visits, GAUGE_TESTS)
    runs = _runs_of(visits)
    found: list[CallChecked] = []
    for visit in visits.select_related("vehicle"):
        results = of_diagnosis(records[visit.pk], findings[visit.pk])
        run = _run_checked(verdict_checked(records[visit.pk], results), runs[visit.pk])
        if run is not None:
            tested = cylinders_tested(
                Measured(r.cylinder, r.test, r.outcome) for r in results if r.cylinder is not None
            )
            engine = run.run.setup.engine_id or visit.vehicle.engine_id
            signal = run.run.setup.analysis.signal
            found += calls_checked(visit.pk, engine, signal, run.calls, tested)
    return found


@dataclass(frozen=True, slots=True)
class _JudgedRun:
    run: Run
    calls: Mapping[int, str]


def _runs_of(visits: QuerySet[Visit]) -> defaultdict[int, list[_JudgedRun]]:
    """Return the judged runs of each visit's diagnosis, by id; of results only what is needed."""
    rows = (
        as_counted(Run.objects.all())
        .filter(
            capture__visit_capture__visit__in=visits.order_by().values("pk"),
            capture__visit_capture__purpose=VisitCapture.Purpose.DIAGNOSIS,
            capture__visit_capture__aside_why="",
            state=Work.State.DONE,
            verdict__in=_JUDGED,
        )
        .order_by("pk")
        .select_related("setup", "capture__visit_capture")
        .defer("result")
    )
    told = {
        pk: (candidates, cylinders)
        for pk, candidates, cylinders in rows.values_list(
            "pk", "result__candidates", "result__cylinders"
        )
    }
    found: defaultdict[int, list[_JudgedRun]] = defaultdict(list)
    for run in rows:
        calls = _calls_in(*told.get(run.pk, (None, None)))
        found[run.capture.visit_capture.visit_id].append(_JudgedRun(run, calls))
    return found


def _calls_in(
    candidates: list[list[int]] | None, cylinders: list[dict[str, Any]] | None
) -> dict[int, str]:
    """Return what each cylinder was called; nothing where it is open which is low."""
    if not cylinders or len(candidates or ()) > 1:
        return {}
    return {one["cylinder"]: one["call"] for one in cylinders if one["relative"] < HIGH_FROM}


def _run_checked(verdict: Judgement | None, runs: list[_JudgedRun]) -> _JudgedRun | None:
    signed = verdict.run_id if verdict else None
    return next((one for one in runs if one.run.pk == signed), runs[-1] if runs else None)


def finished_jobs(member: Member) -> list[JobFinished]:
    """Return the newest delivered jobs with the group that was signed last."""
    closed = Visit.objects.seen_by(member).filter(stage=Stage.CLOSED)
    newest = list(closed.order_by("-pk").values_list("pk", flat=True)[:MOST_VISITS])
    visits = closed.filter(pk__in=newest)
    among = {"visit__in": visits.order_by().values("pk")}
    signed = {j.visit_id: j for j in Judgement.objects.filter(**among).order_by("pk")}
    holds = Outcome.objects.filter(**among, verified=Outcome.Verified.YES)
    proven = set(holds.values_list("visit_id", flat=True))
    came_back = set(
        Visit.objects.seen_by(member)
        .filter(comeback_of__in=newest)
        .values_list("comeback_of", flat=True)
    )
    return [
        JobFinished(
            visit=visit.pk,
            engine=visit.vehicle.engine_id,
            group=_group(signed.get(visit.pk)),
            is_proven=visit.pk in proven and visit.pk not in came_back,
        )
        for visit in visits.select_related("vehicle")
    ]


def _group(judgement: Judgement | None) -> str:
    if judgement is None or judgement.group in {FaultGroup.UNSETTLED, FaultGroup.NONE_FOUND}:
        return ""
    return judgement.group.value


def _engine_names(engines: Iterable[int | None]) -> dict[int | None, str]:
    known = {pk for pk in engines if pk is not None}
    names: dict[int | None, str] = {None: _("Engine not known")}
    return names | {e.pk: str(e) for e in Engine.objects.filter(pk__in=known)}
