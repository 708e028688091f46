"""Programs of the cast, and a job with something of everything for them to ask about."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import pytest
from rest_framework.test import APIClient
from rest_framework.throttling import SimpleRateThrottle

from engines.core.firing import FiringOrder
from engines.models import Engine
from jobs.models import CylinderFinding, Judgement, Question, TroubleCode, Visit, WorkOrder
from jobs.services.captures import visit_captures_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.notes import note_add
from jobs.services.questions import question_ask
from jobs.services.triage import (
    codes_add,
    freeze_frame_add,
    misfires_set,
    triage_change,
    triage_of,
)
from jobs.services.work import work_order_create
from shopdiag.people.models import Member
from shopdiag.people.services import token_create
from tests.conftest import Cast
from tests.jobs.conftest import four, take_in, their_visit, visit
from tests.row_layers import layer
from tests.traces.conftest import csv_bytes, media, upload_of
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.models import Capture, Run
from traces.runs.reading import reading_read
from traces.services import run_add

__all__ = ["four", "media", "take_in", "their_visit", "visit"]

ApiFor = Callable[[Member], APIClient]


@pytest.fixture(autouse=True)
def no_throttle(monkeypatch) -> None:
    """Count no requests; the throttle has a test of its own."""
    monkeypatch.setattr(SimpleRateThrottle, "allow_request", lambda *_: True)


@pytest.fixture
def api_for(db: None) -> ApiFor:
    """Return a program that acts as a member by a token of that member's."""

    def sign_in(member: Member) -> APIClient:
        _, key = token_create(member=member, label="test")
        return program(f"Token {key}")

    return sign_in


def program(header: str | None) -> APIClient:
    """Return a program that sends JSON under this header."""
    client = APIClient()
    client.default_format = "json"
    if header is not None:
        client.credentials(HTTP_AUTHORIZATION=header)
    return client


@dataclass(frozen=True)
class World:
    """One job with something of everything."""

    visit: Visit
    code: TroubleCode
    capture: Capture
    run: Run
    judgement: Judgement
    order: WorkOrder
    finding: CylinderFinding

    @property
    def engine(self) -> Engine:
        """The engine of the job's vehicle."""
        assert self.visit.vehicle.engine
        return self.visit.vehicle.engine

    @property
    def question(self) -> Question:
        """A question on the order that nobody answered."""
        asked = self.order.questions.filter(answered_at=None).first()
        return asked or question_ask(
            order=self.order, member=self.order.created_by, text="Which side?"
        )


def furnish_job(cast: Cast, job: Visit, seed: int = 1) -> World:
    """Add something of everything to a visit of the cast's first shop."""
    diag = cast.diagnostician
    triage = triage_of(visit=job)
    triage.cranks = "uneven"
    triage_change(triage=triage, expected_version=1, member=diag)
    code = codes_add(visit=job, text="P0301 stored", member=diag).added[0]
    freeze_frame_add(visit=job, text="Engine speed 1726 rpm", member=diag, code="P0301")
    misfires_set(visit=job, counts={1: 143, 2: 0, 3: 1, 4: 0}, member=diag)
    note_add(visit=job, text="Cold start first.", member=diag)
    (outcome,) = visit_captures_add(
        visit=job, member=diag, uploads=[upload_of(csv_bytes(seed=seed), f"crank-{seed}.csv")]
    )
    assert outcome.added
    capture = outcome.added.capture
    reading_read(capture.reading.pk)
    run = run_add(
        member=diag,
        capture=capture,
        analysis=AnalysisSetup(FiringOrder.parse("1-3-4-2"), "clamp", 10.0),
    )
    judgement = judgement_sign(
        visit=job,
        member=diag,
        kind="without",
        mechanical="yes",
        cylinders=[1],
        reason="Blows back through the intake.",
    )
    order = work_order_create(judgement=judgement, member=diag)
    finding = finding_add(
        order=order,
        member=cast.mechanic,
        found=NewFinding(1, "gauge_dry", "bad", pressure_kpa=400.0),
    )
    return World(job, code, capture, run, judgement, order, finding)


@pytest.fixture
def world_of(cast: Cast) -> Callable[..., World]:
    """Return a way to add something of everything to a visit of the cast's first shop."""
    return partial(furnish_job, cast)


@layer
def world(cast: Cast, visit: Visit) -> World:
    """A furnished job of the cast's first shop."""
    return furnish_job(cast, visit)
