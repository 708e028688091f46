"""Captures to work with: the references, and small files made here."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from engines.core.firing import FiringOrder
from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.reference_captures import all_references, unpacked
from tests.row_layers import layer
from tests.traces.plot_page import PLOT, RATE_HZ, SECONDS
from tests.traces.simulated import together_for
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.setup.edit_changes import labels_shifted
from traces.models import Capture, Reading, Run
from traces.runs.analysing import run_analyse
from traces.runs.reading import reading_read
from traces.services import capture_add, run_add, run_adjust


def pytest_collection_finish(session: pytest.Session) -> None:
    """Say for whom captures are simulated."""
    together_for(
        {item.module.__name__ for item in session.items if isinstance(item, pytest.Function)}
    )


def reference(name: str) -> Path:
    """Return a reference capture, not packed."""
    return unpacked(name)


def reference_line(name: str) -> dict[str, Any]:
    """Return what the references' manifest says about one of them."""
    return all_references()[Path(name).stem].line


def reference_setup(name: str) -> AnalysisSetup:
    """Return the set-up that a user would enter for a reference capture."""
    return all_references()[Path(name).stem].setup


_columns: dict[str, dict[str, Any]] = {}


def analysed(
    add_read: Callable[..., Capture], member: Member, name: str, engine: Engine | None = None
) -> Run:
    """Take a reference capture through to its report.

    The analysis itself is done once in a test run; after that its outcome is written down.
    """
    capture = add_read(reference(name).read_bytes(), name=name)
    run = run_add(member=member, capture=capture, analysis=reference_setup(name), engine=engine)
    if name in _columns:
        Run.objects.filter(pk=run.pk).update(**_columns[name])
    else:
        assert run_analyse(run.pk)
        kept = ("state", "verdict", "result", "sha256", "finished_at", "code_version")
        _columns[name] = Run.objects.filter(pk=run.pk).values(*kept).get()
    run.refresh_from_db()
    assert run.report
    return run


def shifted(run: Run, member: Member, places: int = 1) -> Run:
    """Move the labels of a run on by hand; return the new run."""
    return run_adjust(member=member, run=run, changed=labels_shifted(run.setup.analysis, places))


def csv_bytes(seconds: float = 1.0, rate_hz: float = 1000.0, seed: int = 1) -> bytes:
    """Return a small two-channel recording: a wave and a row of pulses."""
    t = np.arange(int(seconds * rate_hz)) / rate_hz
    a = 1.2 + 0.3 * np.sin(2 * np.pi * 8 * t + seed)
    b = np.where((t * 2) % 1 < 0.01, 4.0, 0.1)
    rows = "\n".join(f"{x:.4f},{y:.4f},{z:.3f}" for x, y, z in zip(t, a, b, strict=True))
    return f"Time,clamp,coil\n(s),(V),(V)\n{rows}\n".encode()


def csv_setup() -> AnalysisSetup:
    """Return the set-up of a recording as `csv_bytes` makes it."""
    return AnalysisSetup(FiringOrder.parse("1-3-4-2"), "clamp", 10.0, SyncSetup("coil", 1))


def upload_of(content: bytes, name: str = "crank.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


@pytest.fixture(autouse=True)
def media(settings, tmp_path: Path) -> Path:
    """Keep every test's files in a folder of its own."""
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@layer
def engine() -> Engine:
    engine = Engine(
        key="test-inline-four",
        name="Inline four",
        layout="I4",
        firing_order="1-3-4-2",
        source="FACTS: usual order of an inline four",
    )
    engine.save()
    return engine


def capture_taken_in(
    cast: Cast,
    content: bytes | None = None,
    member: Member | None = None,
    name: str = "crank.csv",
) -> Capture:
    """Take a file in for a member, the diagnostician unless told."""
    outcome = capture_add(
        member=member or cast.diagnostician,
        upload=upload_of(csv_bytes() if content is None else content, name),
    )
    assert outcome.capture is not None
    return outcome.capture


def capture_read(cast: Cast, *args: Any, **kwargs: Any) -> Capture:
    """Take a file in and read it as the worker would."""
    made = capture_taken_in(cast, *args, **kwargs)
    reading_read(made.reading.pk)
    return Capture.objects.select_related("current_reading").get(pk=made.pk)


@pytest.fixture
def add(cast: Cast) -> Callable[..., Capture]:
    return partial(capture_taken_in, cast)


@pytest.fixture
def add_read(cast: Cast) -> Callable[..., Capture]:
    return partial(capture_read, cast)


@pytest.fixture
def other_engine(cast: Cast) -> Engine:
    engine = Engine(
        shop=cast.shop, name="Other four", layout="I4", firing_order="1-2-4-3", source="its plate"
    )
    engine.save()
    return engine


@layer
def run(cast: Cast, engine: Engine) -> Run:
    """A reference capture with its report."""
    return analysed(partial(capture_read, cast), cast.diagnostician, "ref-01.csv", engine)


@pytest.fixture
def reading(add: Callable[..., Capture]) -> Reading:
    """A reading that waits for the worker."""
    return add().reading


@pytest.fixture
def page(client_for: Callable[[Member], Client], cast: Cast) -> Callable[..., str]:
    """Fetch a capture's page as somebody, the diagnostician unless told."""

    def fetch(capture: Capture, member: Member | None = None, name: str = "traces:capture") -> str:
        answer = client_for(member or cast.diagnostician).get(reverse(name, args=[capture.pk]))
        assert answer.status_code == 200
        return answer.content.decode()

    return fetch


@pytest.fixture
def recorded(signed_in_page: Callable, cast: Cast, add_read: Callable[..., Capture]):
    """Open a capture that was read and not set up, its channels drawn."""
    capture = add_read(csv_bytes(SECONDS, RATE_HZ))
    complaints: list[list[str]] = []

    def go(**options: Any) -> Page:
        page: Page
        page, said = signed_in_page(cast.diagnostician, **options, keep=True)
        complaints.append(said)
        page.goto(f"/captures/{capture.pk}/")
        expect(page.locator(f"{PLOT} .scatterlayer .trace").first).to_be_visible()
        expect(page.locator("#recorded [data-plot-tools]")).to_be_visible()
        page.locator(PLOT).scroll_into_view_if_needed()
        return page

    yield go
    assert complaints
    assert not any(complaints), complaints
