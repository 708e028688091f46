"""How signed verdicts fared, told from what work orders of the diagnosis found."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils import timezone

from jobs.core.proportion import Proportion
from jobs.core.verdict_checks import (
    SEALING_TESTS,
    Check,
    Measured,
    check_named,
    check_no_fault,
    cylinders_tested,
)
from jobs.core.weeks import VerdictSigned
from jobs.models import CylinderFinding, Judgement, Visit
from jobs.selectors.consents import is_of_repair
from jobs.selectors.visit_records import VisitRecords, records_of
from shopdiag.people.models import Member


@dataclass(frozen=True, slots=True)
class CheckedVerdict:
    """A job's verdict as it stood when it was checked, and how it fared."""

    visit_id: int
    is_no_fault: bool
    day: date
    check: Check

    @property
    def signed(self) -> VerdictSigned:
        """It by its day."""
        return VerdictSigned(self.day, self.check)


@dataclass(frozen=True, slots=True)
class Tally:
    """How verdicts of one kind fared."""

    confirmed: int
    not_confirmed: int
    not_checked: int

    @property
    def total(self) -> int:
        """How many there are."""
        return self.confirmed + self.not_confirmed + self.not_checked

    @property
    def of_checked(self) -> Proportion:
        """The confirmed among the checked."""
        return Proportion(self.confirmed, self.confirmed + self.not_confirmed)


def tally(verdicts: list[CheckedVerdict], *, no_fault: bool) -> Tally:
    """Return how the verdicts fared that found no compression fault, or those that name one."""
    checks = [v.check for v in verdicts if v.is_no_fault == no_fault]
    return Tally(
        confirmed=checks.count(Check.CONFIRMED),
        not_confirmed=checks.count(Check.NOT_CONFIRMED),
        not_checked=checks.count(Check.NOT_CHECKED),
    )


def verdicts_checked(member: Member, since: datetime) -> list[CheckedVerdict]:
    """Return a verdict a job, of those signed since; what settles nothing is left out.

    It is the verdict that sent the mechanic to the engine: one signed afterwards knew what was
    found. Where nothing was measured, it is the one that stands.
    """
    visits = Visit.objects.seen_by(member).filter(
        pk__in=Judgement.objects.filter(visit__shop_id=member.shop_id, at__gte=since).values(
            "visit"
        )
    )
    records, findings = records_of(visits), findings_on_cylinders(visits, SEALING_TESTS)
    candidates = _candidates(visits)
    found = []
    for visit in visits.select_related("vehicle__engine"):
        at_hand = records[visit.pk]
        results = of_diagnosis(at_hand, findings[visit.pk])
        verdict = verdict_checked(at_hand, results)
        if verdict is None or verdict.at < since:
            continue
        check = _check(visit, verdict, candidates.get(verdict.pk) or (), results)
        if check is not None:
            day = timezone.localtime(verdict.at).date()
            found.append(CheckedVerdict(visit.pk, verdict.is_beyond_compression, day, check))
    return found


def findings_on_cylinders(
    visits: QuerySet[Visit], tests: Collection[str]
) -> defaultdict[int, list[CylinderFinding]]:
    """Return what tests found on cylinders, by the visit's id; corrected lines are left out."""
    found: defaultdict[int, list[CylinderFinding]] = defaultdict(list)
    rows = (
        CylinderFinding.objects.filter(
            work_order__visit__in=visits.order_by().values("pk"),
            replaced_by=None,
            test__in=tests,
            cylinder__isnull=False,
        )
        .exclude(outcome=CylinderFinding.Outcome.NOT_DONE)
        .select_related("work_order")
        .order_by("pk")
    )
    for finding in rows:
        found[finding.work_order.visit_id].append(finding)
    return found


def _candidates(visits: QuerySet[Visit]) -> dict[int, list[list[int]] | None]:
    """Return the sets of cylinders that fit the capture of each verdict; no report is read."""
    signed = Judgement.objects.filter(visit__in=visits.order_by().values("pk")).exclude(run=None)
    return dict(signed.order_by().values_list("pk", "run__result__candidates"))


def of_diagnosis(records: VisitRecords, rows: list[CylinderFinding]) -> list[CylinderFinding]:
    """Leave out what a repair's order found: it tells how the engine is now."""
    diagnosis = {o.pk for o in records.orders if not is_of_repair(o, records.orders)}
    return [row for row in rows if row.work_order_id in diagnosis]


def verdict_checked(records: VisitRecords, results: list[CylinderFinding]) -> Judgement | None:
    """Return the verdict that sent the mechanic to the engine, else the one that stands."""
    if not results:
        return records.verdict
    sent_by = results[0].work_order.judgement_id
    return next((j for j in records.judgements if j.pk == sent_by), records.verdict)


def _check(
    visit: Visit,
    verdict: Judgement,
    candidates: list[list[int]] | tuple[()],
    results: list[CylinderFinding],
) -> Check | None:
    tested = cylinders_tested(
        Measured(r.cylinder, r.test, r.outcome) for r in results if r.cylinder is not None
    )
    if verdict.is_beyond_compression:
        engine = visit.vehicle.engine
        cylinders = range(1, engine.cylinders + 1) if engine else ()
        return check_no_fault(verdict.cylinders, cylinders, tested)
    if verdict.mechanical == Judgement.Mechanical.YES and verdict.cylinders:
        return check_named(verdict.cylinders, candidates, tested)
    return None
