"""Whether an engine was warm when it was cranked, by its captures and by what was recorded."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import OuterRef, Q, QuerySet, Subquery

from jobs.models import CylinderFinding, Visit, VisitCapture, WorkOrder
from jobs.selectors.captures import as_counted, visit_runs
from traces.models import Run, Work

_WARM = frozenset({"warm", "hot"})


@dataclass(frozen=True, slots=True)
class CrankedAt:
    """A judged capture of the diagnosis: its verdict, the engine's temperature, when it came."""

    verdict: str
    temperature: str
    uploaded_at: datetime


def judged_runs(visit: Visit, run: Run | None = None) -> QuerySet[Run]:
    """Return the runs of the diagnosis that have a verdict, of captures not set aside.

    Of each capture its newest analysis counts, and none where that one has no verdict: what an
    older set-up found is no result of it any more.

    Parameters
    ----------
    run
        A run that counts for its capture, whatever was analysed there since.
    """
    newest = as_counted(Run.objects.filter(capture_id=OuterRef("capture_id"))).order_by("-pk")
    counts = Q(pk=Subquery(newest.values("pk")[:1]))
    if run is not None:
        counts = Q(pk=run.pk) | (counts & ~Q(capture_id=run.capture_id))
    return visit_runs(visit).filter(
        counts,
        state=Work.State.DONE,
        verdict__in=["even", "uneven"],
        capture__visit_capture__purpose=VisitCapture.Purpose.DIAGNOSIS,
        capture__visit_capture__aside_why="",
    )


def cranked_at(visit: Visit, run: Run | None) -> tuple[CrankedAt, ...]:
    """Return each judged capture once, in the order they came, by its newest run.

    Parameters
    ----------
    run
        The run to plan by; it counts for its capture, whatever was analysed there since.
    """
    rows = judged_runs(visit, run).values_list(
        "verdict", "setup__temperature", "capture__uploaded_at"
    )
    return tuple(CrankedAt(*row) for row in rows.order_by("capture__uploaded_at", "pk"))


def warmest_even(cranked: Sequence[CrankedAt], run: Run | None) -> str:
    """Return the engine's temperature by the run to plan by and every even capture.

    `warm` where one was warm or hot, `cold` where all were cold; empty where one may have been warm
    and nobody noted it.
    """
    own = [run.setup.conditions.temperature] if run else []
    found = {*own, *(c.temperature for c in cranked if c.verdict == "even")}
    if found & _WARM:
        return "warm"
    return "cold" if found == {"cold"} else ""


def was_warm(
    finding: CylinderFinding, order: WorkOrder, cranked: Sequence[CrankedAt]
) -> bool | None:
    """Return whether the engine was warm in a test; None where nobody noted it.

    Of a repeated capture of which nobody noted it, the newest capture between its order and its
    record tells.
    """
    if finding.is_warm is not None or finding.test != CylinderFinding.Test.REPEAT:
        return finding.is_warm
    made = [c for c in cranked if order.created_at < c.uploaded_at <= finding.at]
    return is_warm_at(made[-1].temperature) if made else None


def is_warm_at(temperature: str) -> bool | None:
    """Return whether a set-up's temperature is that of a warm engine; None where none was noted."""
    return temperature in _WARM if temperature else None
