"""Runs whose result an earlier version stored: pages open, programs get what they got."""

import json
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from shopdiag.people.services import token_create
from tests.traces.conftest import csv_bytes
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.signal_kinds import Signal
from traces.models import Run, Work
from traces.selectors.cycle_figures import run_cycle_picture
from traces.services import run_add

FIRST_FORM = Path(__file__).parent / "core" / "report" / "stored_1"
ENGINES: dict[str, tuple[str, Signal]] = {
    "current-banks": ("1-6-5-4-3-2", "starter-current"),
    "current-opened-plug": ("1-2-3", "starter-current"),
    "current-refused": ("1-3-4-2", "starter-current"),
    "current-second-compression": ("1-3-4-2", "starter-current"),
    "teeth": ("1-3-2", "crank-teeth"),
    "voltage": ("1-3-2", "battery-voltage"),
    "voltage-plain": ("1-3-4-2", "battery-voltage"),
}
"""Of each stored result: the firing order and the signal it was judged with."""


@pytest.fixture(params=sorted(ENGINES))
def run(request, add_read, cast) -> Run:
    order, signal = ENGINES[request.param]
    capture = add_read(csv_bytes(7.0, 200.0))
    setup = AnalysisSetup(FiringOrder.parse(order), "clamp", 10.0, signal=signal)
    added = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
    result = json.loads((FIRST_FORM / f"{request.param}.json").read_text(encoding="utf-8"))
    Run.objects.filter(pk=added.pk).update(
        state=Work.State.DONE, verdict=result["verdict"], result=result
    )
    added.refresh_from_db()
    return added


def test_pages_and_plots_open(run, cast, client_for) -> None:
    client = client_for(cast.mechanic)
    for name in ("traces:run", "traces:plot"):
        assert client.get(reverse(name, args=[run.capture_id, run.pk])).status_code == 200, name
    fitted = run.result["extra"].get("cycle_fit")
    assert (run_cycle_picture(run) is None) == (fitted is None)


def test_programs_are_given_the_published_form(run, cast, client_for) -> None:
    _, key = token_create(member=cast.mechanic, label="test")
    answer = Client(headers={"Authorization": f"Token {key}"}).get(f"/api/runs/{run.pk}/").json()
    assert answer["result"] == run.result
    page = client_for(cast.mechanic)
    given = page.get(reverse("traces:result", args=[run.capture_id, run.pk])).json()
    assert given["schema"] == 1
    assert given["positions"] == run.result["positions"]
    assert given["event_angle"] == run.result["extra"].get("event_angle")
