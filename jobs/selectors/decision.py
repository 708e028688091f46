"""What a diagnostician has before him when a verdict is signed."""

from dataclasses import dataclass

from jobs.core.accepting import why_not_accepted
from jobs.models import Visit, VisitCapture
from jobs.selectors.evidence import capture_rows, visit_runs
from jobs.selectors.together import CapturesTogether, together_of
from traces.core.results import Report
from traces.models import Run, Work
from traces.selectors.captures import Outcome


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
    """

    run: Run | None
    report: Report | None
    outcome: Outcome | None
    acceptable: bool
    together: CapturesTogether | None


def decision_on(visit: Visit, run: Run | None) -> Decision:
    """Return what there is to decide on: a run of the visit, or none."""
    report = run.report if run and run.state == Work.State.DONE else None
    purpose = run.capture.visit_capture.purpose if run else VisitCapture.Purpose.DIAGNOSIS
    return Decision(
        run=run if report else None,
        report=report,
        outcome=Outcome(run, report, run.setup.analysis) if run and report else None,
        acceptable=report is not None
        and why_not_accepted(report.verdict, visit.vehicle.drive) is None,
        together=together_of(visit, capture_rows(visit), purpose),
    )


def run_to_decide(visit: Visit) -> Run | None:
    """Return the run offered for signing: the newest judged one that is not set aside.

    Where there is none, the newest that has a result at all.
    """
    done = visit_runs(visit).filter(state=Work.State.DONE)
    counting = done.filter(capture__visit_capture__aside_why="")
    return counting.exclude(verdict="not judged").first() or counting.first() or done.first()
