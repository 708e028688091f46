"""How often a job's cranking test was made and repeated, and whether it came out alike."""

from django.db.models import Q, QuerySet
from django.utils.translation import gettext, ngettext

from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import copies_among, visit_runs
from jobs.selectors.pooled_captures import captures_together
from traces.models import Run, Work

_NOT_JUDGED = ("", "not judged")


def judged_runs(visit: Visit, purpose: str) -> QuerySet[Run]:
    """Return the judged runs of captures that count, newest first; each recording counts once."""
    runs = visit_runs(visit).filter(
        capture__visit_capture__purpose=purpose,
        capture__visit_capture__aside_why="",
        state=Work.State.DONE,
    )
    if visit.closed_at is not None:
        # A capture may be analysed anew at any time; paper that was handed out stays as it was.
        runs = runs.filter(finished_at__lte=visit.closed_at)
    runs = runs.exclude(verdict__in=_NOT_JUDGED)
    judged = visit_runs(visit).filter(state=Work.State.DONE).exclude(verdict__in=_NOT_JUDGED)
    copies = copies_among(
        visit.visit_captures.select_related("capture__current_reading"),
        set(judged.values_list("capture_id", flat=True)),
    )
    return runs.exclude(capture__visit_capture__in=list(copies))


def repeats(visit: Visit, *, before: bool, after: bool) -> str:
    """Return how often the test gave a result, and that the bars show one of several."""
    if not before:
        return ""
    made = _times(visit, VisitCapture.Purpose.DIAGNOSIS)
    told = [
        ngettext(
            "This test was made once.",
            "This test was made %(count)s times; the bars show one of them.",
            made,
        )
        % {"count": made}
    ]
    if after:
        repeated = _times(visit, VisitCapture.Purpose.VERIFICATION)
        told.append(
            ngettext(
                "It was repeated once after the repair.",
                "It was repeated %(count)s times after the repair; the bars show the newest.",
                repeated,
            )
            % {"count": repeated}
        )
    return " ".join(told)


def _times(visit: Visit, purpose: str) -> int:
    """Return on how many captures of a purpose a result stands."""
    runs = judged_runs(visit, purpose).order_by()
    # what was signed may be set aside since, and its bars are shown all the same
    return max(runs.values("capture").distinct().count(), 1)


def not_repeatable(visit: Visit, before: Run) -> list[str]:
    """Return that captures before the repair do not agree; of a closed job, those of then."""
    repeated = captures_together(visit, signed=before, until=visit.closed_at)
    if repeated is None or repeated.pooled.agrees:
        return []
    return [gettext("Repeated before the repair, the test did not come out alike each time.")]


def not_repeated(visit: Visit) -> str:
    """Return why no capture after the repair stands beside the first."""
    ties = visit.visit_captures.filter(purpose=VisitCapture.Purpose.VERIFICATION)
    if not ties.exists():
        return gettext("The test was not repeated after the repair.")
    over = [Work.State.DONE, Work.State.FAILED]
    can_be_read = ties.filter(aside_why="").exclude(
        capture__current_reading__state=Work.State.FAILED
    )
    is_waited_for = Q(capture__runs=None) | ~Q(capture__runs__state__in=over)
    if can_be_read.filter(is_waited_for).exists():
        return gettext("The test was repeated after the repair; its result is not there yet.")
    return gettext("The test was repeated after the repair, but gave no result that counts.")
