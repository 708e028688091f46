"""Runs of captures whose report is known beforehand."""

from collections.abc import Callable

from django.utils import timezone

from engines.models import Engine
from shopdiag.people.models import Member
from tests.traces.conftest import csv_bytes
from traces.core.report.results import Report
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.setup.conditions import Conditions
from traces.models import Capture, Run, Work
from traces.services import run_add


def judged_run(
    add_read: Callable[..., Capture],
    member: Member,
    made: tuple[Report, AnalysisSetup, tuple[int, ...]],
    engine: Engine | None = None,
    *,
    name: str = "crank.csv",
    seed: int = 1,
    conditions: Conditions | None = None,
    capture: Capture | None = None,
) -> Run:
    """Add a capture (or take the one given) and a run that ended with the report of `made`."""
    report, setup, _ = made
    capture = capture or add_read(csv_bytes(7.0, 200.0, seed), member=member, name=name)
    run = run_add(
        member=member, capture=capture, analysis=setup, engine=engine, conditions=conditions
    )
    Run.objects.filter(pk=run.pk).update(
        state=Work.State.DONE,
        verdict=report.verdict,
        result=report.to_json(),
        finished_at=timezone.now(),
    )
    run.refresh_from_db()
    return run
