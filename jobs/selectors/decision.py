"""What a diagnostician has before him when a verdict is signed."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

from jobs.core.accepting import why_not_accepted
from jobs.core.candidate_ranking import Ranking
from jobs.models import Visit, VisitCapture
from jobs.selectors.captures import CaptureRow, capture_rows, cranked_runs, shows_nothing
from jobs.selectors.misfires import beside_run, ranking_of
from jobs.selectors.patterns import PatternCard, pattern_cards
from jobs.selectors.pooled_captures import CapturesTogether, together_of
from traces.core.report import Report
from traces.models import Run, Work
from traces.selectors.captures import RunOutcome
from traces.selectors.hand import by_hand_words
from traces.selectors.readings import is_read_anew


@dataclass(frozen=True, slots=True)
class Decision:
    """A run's result as evidence for a verdict.

    Parameters
    ----------
    run, report, outcome
        The run with what it says; None as far as there is none.
    acceptable
        Whether its verdict may be accepted as it is.
    together
        What the captures of the same state of the engine say together.
    ranking
        Which of the sets that fit the visit's misfires point at; None where nothing is open.
    patterns
        What the result's pattern suggests, in the order in which it is to be dealt with.
    by_hand
        What a person changed by hand before it came out so; "" where nothing.
    read_anew
        Whether its file was read anew since, so that it judged what the file is not taken for.
    beside
        Codes and counts that name another cylinder or bank than it does.
    """

    run: Run | None
    report: Report | None
    outcome: RunOutcome | None
    acceptable: bool
    together: CapturesTogether | None
    ranking: Ranking | None
    patterns: tuple[PatternCard, ...]
    by_hand: str = ""
    read_anew: bool = False
    beside: tuple[str, ...] = ()


def decision_on(visit: Visit, run: Run | None) -> Decision:
    """Return what there is to decide on: a run of the visit, or none."""
    report = run.report if run and run.state == Work.State.DONE else None
    purpose = run.capture.visit_capture.purpose if run else VisitCapture.Purpose.DIAGNOSIS
    together = together_of(visit, capture_rows(visit, signed=run if report else None), purpose)
    return Decision(
        run=run if report else None,
        report=report,
        outcome=RunOutcome(run, report, run.setup.analysis) if run and report else None,
        acceptable=report is not None
        and why_not_accepted(report.verdict, visit.vehicle.drive) is None,
        together=together,
        ranking=ranking_of(visit, report.candidates, run) if report else None,
        patterns=pattern_cards(visit, run, together) if report else (),
        by_hand=by_hand_words(run.setup) if run and report else "",
        read_anew=bool(run and report and is_read_anew(run)),
        beside=beside_run(visit, run, report.candidates)
        if run and report and report.verdict != "not judged" and report.cylinders_known
        else (),
    )


def run_to_decide(visit: Visit, captures: Sequence[CaptureRow] | None = None) -> Run | None:
    """Return the run offered for signing: of the captures that are pooled the best settled one.

    Where captures contradict each other, the best settled of the uneven ones: a weak cylinder
    that another capture does not show must be seen before anybody signs. Of even ones those first
    that show a weaker bank or a high cylinder. Where nothing is pooled,
    the best settled of those that are judged and not set aside; where none is judged, the newest
    that has a result at all. What was made before the repair comes first, and an older analysis
    of a capture never before its newest.

    Parameters
    ----------
    captures
        The visit's captures, where they were read already.
    """
    rows = [
        row
        for row in (capture_rows(visit) if captures is None else captures)
        if row.report and not row.tie.is_aside and row.same_as is None
    ]
    judged = [row for row in rows if row.report and row.report.verdict != "not judged"]
    for purpose in (VisitCapture.Purpose.DIAGNOSIS, VisitCapture.Purpose.VERIFICATION):
        own = [row for row in judged if row.tie.purpose == purpose]
        together = together_of(visit, rows, purpose) if len(own) > 1 else None
        pooled = [row for row in own if together and together.has(row.tie.capture_id)]
        uneven = [row for row in own if row.report and row.report.verdict == "uneven"]
        if together and not together.pooled.agrees and uneven:
            return max(uneven, key=_settled).run
        if own:
            chosen = pooled or own
            # what stands beside even cylinders must be seen before anybody signs, too
            beside = [row for row in chosen if not uneven and not shows_nothing(row.run)]
            return max(beside or chosen, key=_settled).run
    done = cranked_runs(visit).filter(state=Work.State.DONE)
    return done.filter(capture__visit_capture__aside_why="").first() or done.first()


def _settled(row: CaptureRow) -> tuple[bool, bool, bool, float, int]:
    """Return how well a capture settles what is low and where: the greater, the better."""
    report = row.report
    if report is None:
        return (False, False, False, -inf, 0)
    widths = [e.high - e.low for e in report.estimates]
    width = sum(widths) / len(widths) if widths else inf
    return (
        # with a plug out one cylinder is not tested
        report.open_cylinder is None,
        report.cylinders_known,
        len(report.candidates) == 1,
        -round(width, 3),
        row.tie.pk,
    )
