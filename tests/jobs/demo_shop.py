"""The demo shop in a test's own database, as a start leaves it once its worker is done."""

import json
from collections.abc import Sequence
from functools import cache
from typing import Any
from unittest.mock import patch

from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command

from jobs.demo import captures
from jobs.demo.load import begin, carry_on, demo_shop, staff
from jobs.demo.story import DemoCrank
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from traces.models import Reading, Run, Work
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read

_outcomes: dict[tuple[str, str], dict[str, Any]] = {}
_ROUNDS = 6
"""Read, analyse, sign and order, then the same after the repair; each round does one step."""


def fill_demo_shop() -> dict[Role, Member]:
    """Load the demo, do the worker's part here, and return its people by role."""
    with patch("jobs.demo.load.record", _record):
        return _fill()


def _fill() -> dict[Role, Member]:
    call_command("load_engines", verbosity=0)
    begin(lambda _words: None)
    for _ in range(_ROUNDS):
        for reading in Reading.objects.filter(state=Work.State.QUEUED):
            assert reading_read(reading.pk)
        for run in Run.objects.filter(state=Work.State.QUEUED):
            _analyse(run)
        carry_on()
    shop = demo_shop()
    assert shop is not None
    return staff(shop)


def _record(cranks: Sequence[DemoCrank]) -> list[SimpleUploadedFile]:
    return [SimpleUploadedFile(name, content) for name, content in _recorded(tuple(cranks))]


@cache
def _recorded(cranks: tuple[DemoCrank, ...]) -> list[tuple[str, bytes]]:
    """Simulate captures once in a process; return their names and what is in them."""
    return [(file.name or "", file.read()) for file in captures.record(cranks)]


def _analyse(run: Run) -> None:
    """Analyse a run; each capture with its set-up once in a process, then by what was found."""
    asked = (run.capture.sha256, json.dumps(run.setup.settings, sort_keys=True))
    if asked in _outcomes:
        Run.objects.filter(pk=run.pk).update(**_outcomes[asked])
        return
    assert run_analyse(run.pk)
    kept = ("state", "verdict", "result", "sha256", "finished_at", "code_version")
    _outcomes[asked] = Run.objects.filter(pk=run.pk).values(*kept).get()
