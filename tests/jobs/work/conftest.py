"""Captures with a known result, verdicts and work orders to test on."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from engines.core.firing import FiringOrder
from jobs.models import Judgement, Visit, VisitCapture, WorkOrder
from jobs.services.judgements import judgement_sign
from jobs.services.triage import triage_change, triage_of
from jobs.services.work import work_order_create
from shopdiag.people.core.words import NOTHING, say
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.row_layers import layer
from traces.core.findings.findings import Finding
from traces.core.report.parts import ReportParts, RunningFigures
from traces.core.report.results import RUNNING, Estimate, Report, Verdict
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.models import Capture, CaptureSetup, Reading, Run, Work

_numbers = count(1)


@pytest.fixture(autouse=True)
def media(settings, tmp_path) -> Path:
    """Keep uploads out of everybody's way."""
    folder: Path = tmp_path / "files"
    settings.MEDIA_ROOT = folder
    return folder


@pytest.fixture
def by(cast: Cast) -> Member:
    """Who does the diagnosis."""
    return cast.diagnostician


def listened_to(visit: Visit, by: Member) -> Visit:
    """Take a visit to where its captures are judged."""
    triage = triage_of(visit=visit)
    triage.cranks = "uneven"
    triage_change(triage=triage, expected_version=triage.version, member=by)
    visit.refresh_from_db()
    return visit


@layer
def triaged(cast: Cast, visit: Visit) -> Visit:
    """A visit that was listened to."""
    return listened_to(visit, cast.diagnostician)


def report_of(
    relative: Mapping[int, float],
    order: FiringOrder,
    *,
    verdict: Verdict | None = None,
    candidates: Collection[Collection[int]] | None = None,
    known: bool = True,
) -> Report:
    """Return a report with these figures; low ones are under 0.80."""
    low = tuple(sorted(c for c, v in relative.items() if v < 0.8))
    verdict = verdict or ("uneven" if low else "even")
    refused = verdict == "not judged"
    estimates = tuple(
        Estimate(
            position=place,
            cylinder=cylinder if known else None,
            relative=relative[cylinder],
            low=relative[cylinder] - 0.04,
            high=relative[cylinder] + 0.04,
            call="suspect" if cylinder in low else "sound",
        )
        for place, cylinder in enumerate(order.sequence, start=1)
    )
    return Report(
        verdict=verdict,
        estimates=() if refused else estimates,
        candidates=()
        if refused
        else tuple(tuple(c) for c in candidates)
        if candidates is not None
        else (low,),
        cylinders_known=known and not refused,
        cranking_rpm=240.0,
        cycles=9,
        findings=(
            Finding("clipped", "stop", say("The clamp clipped."), say("Choose a larger range.")),
        )
        if refused
        else (),
        sync_note=NOTHING if refused else say("9 ignition events of cylinder 1 on channel coil."),
    )


def make_run(
    by: Member, visit: Visit, relative: Mapping[int, float] | None = None, **given: Any
) -> Run:
    """Give a visit a capture with a finished run of known figures."""
    n = next(_numbers)
    purpose = given.pop("purpose", VisitCapture.Purpose.DIAGNOSIS)
    state = given.pop("state", Work.State.DONE)
    fuel = given.pop("fuel", "petrol")
    engine = visit.vehicle.engine
    order = engine.order if engine else FiringOrder.parse("1-3-4-2")
    figures = relative or dict.fromkeys(order.sequence, 1.0) | {3: 0.57}
    report = report_of(figures, order, **given)
    capture = Capture.objects.create(
        shop=visit.shop,
        original=f"captures/{n}.csv",
        original_name=f"crank-{n}.csv",
        size_bytes=100,
        sha256=f"{n:064d}",
        uploaded_by=by,
    )
    capture.current_reading = Reading.objects.create(
        capture=capture,
        state=Work.State.DONE,
        understood={
            "samples": 6000,
            "channels": [
                {"name": name, "unit": "V", "minimum": 0.0, "maximum": 4.0, "missing": 0}
                for name in ("clamp", "coil")
            ],
        },
    )
    capture.save()
    VisitCapture.objects.create(visit=visit, capture=capture, purpose=purpose)
    setup = CaptureSetup.objects.create(
        capture=capture,
        engine=engine,
        settings=AnalysisSetup(
            firing_order=order,
            current_channel="clamp",
            mv_per_a=10.0,
            sync=SyncSetup("coil", 1),
            fuel=fuel,
        ).to_json(),
        created_by=by,
    )
    done = state == Work.State.DONE
    return Run.objects.create(
        capture=capture,
        setup=setup,
        reading=capture.reading,
        state=state,
        verdict=report.verdict if done else "",
        result=report.to_json() if done else None,
        finished_at=timezone.now() if done else None,
    )


@pytest.fixture
def run_of(by: Member) -> Callable[..., Run]:
    """Give a visit a capture with a finished run of known figures."""
    return partial(make_run, by)


@pytest.fixture
def idle_of(run_of: Callable[..., Run]) -> Callable[..., Run]:
    """Give a visit a capture of its idling engine, with known contributions."""

    def make(visit: Visit, adds: Mapping[int, float], **given: object) -> Run:
        run = run_of(visit, adds, **{"purpose": VisitCapture.Purpose.RUNNING, **given})
        report = run.report
        assert report is not None
        grades = tuple("dead" if e.relative < 0.3 else "even" for e in report.estimates)
        parts = ReportParts(running=RunningFigures(800.0, "60-2", True, grades))
        idling = replace(report, method=RUNNING, cranking_rpm=None, parts=parts)
        settings = run.setup.settings | {"signal": "running-teeth"}
        type(run.setup).objects.filter(pk=run.setup_id).update(settings=settings)
        Run.objects.filter(pk=run.pk).update(result=idling.to_json())
        return Run.objects.get(pk=run.pk)

    return make


def make_judgement(
    by: Member, visit: Visit, run: Run | None = None, cylinders: Iterable[int] = (3,), **other: Any
) -> Judgement:
    """Sign that cylinders are low; accepted unless told otherwise."""
    given = {"kind": "accepted", "mechanical": "yes", **other}
    signed: Judgement = judgement_sign(
        visit=visit, member=by, run=run, cylinders=list(cylinders), **given
    )
    return signed


@pytest.fixture
def sign(by: Member) -> Callable[..., Judgement]:
    """Sign that cylinders are low; accepted unless told otherwise."""
    return partial(make_judgement, by)


@layer
def signed(cast: Cast, triaged: Visit) -> Judgement:
    """The verdict "cylinder 3 is low", accepted."""
    return make_judgement(cast.diagnostician, triaged, make_run(cast.diagnostician, triaged))


@layer
def order(cast: Cast, signed: Judgement) -> WorkOrder:
    """An open work order on cylinder 3, for whoever is free."""
    return work_order_create(judgement=signed, member=cast.diagnostician)


@layer
def ignition(cast: Cast, triaged: Visit) -> Judgement:
    """An even capture signed as a fault of the ignition on cylinder 2."""
    return judgement_sign(
        visit=triaged,
        member=cast.diagnostician,
        kind="accepted",
        mechanical="no",
        run=make_run(cast.diagnostician, triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}),
        cylinders=[2],
        fault_group="ignition",
    )


@pytest.fixture
def signed_beside(cast, take_in, four, by):
    """A compression fault signed on another job."""
    return judgement_sign(
        visit=take_in(cast.writer, engine=four),
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[2],
        reason="Gauge.",
    )
