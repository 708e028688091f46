"""An idling engine's crank teeth through every door: proposal, set-up, page, API, export, case."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.setup_form import filled_in
from traces.core.proposal import ChannelRoles
from traces.models import Capture, Run
from traces.runs.analysing import run_analyse
from traces.selectors.captures import RunOutcome
from traces.selectors.figure_marks import View
from traces.selectors.figures import run_figure
from traces.services import run_add
from traces.simulator.running import Idle, idle_capture

ClientFor = Callable[[Member], Client]
ORDER = FiringOrder.parse("1-3-4-2")


@pytest.fixture(scope="module")
def idle_file(tmp_path_factory) -> Path:
    """Cylinder 3 of four burns nothing; the engine is switched off at the end."""
    made = idle_capture(
        Idle(5, "gas", ORDER, burn={3: 0.0}, course="coast", lasts_s=5.0, rate_hz=20_000.0)
    )
    file: Path = tmp_path_factory.mktemp("idle") / "idle.npz"
    crank, coil = (made.waveform.channels[i].values for i in (0, 1))
    time_s = np.arange(crank.size) / made.waveform.rate_hz
    np.savez(file, time=time_s, crank=crank, coil=coil)
    return file


@pytest.fixture
def idling(idle_file: Path, add_read: Callable[..., Capture]) -> Capture:
    return add_read(idle_file.read_bytes(), name="idle.npz")


@pytest.fixture
def judged(idling: Capture, cast: Cast, engine: Engine) -> Run:
    """The file as a person sets it up, done by the worker."""
    form = filled_in(
        idling.reading,
        cast.diagnostician,
        engine,
        signal="running-teeth",
        scale="",
        current_channel="crank",
        sync_channel="coil",
        flywheel="one-piece",
        # hidden where the engine idles, and no matter
        fuel_off="yes",
        opened_plug="2",
    )
    assert form.is_valid(), form.errors
    run = run_add(
        member=cast.diagnostician,
        capture=idling,
        engine=form.given.engine,
        analysis=form.given.analysis,
        conditions=form.given.conditions,
    )
    assert run_analyse(run.pk)
    run.refresh_from_db()
    return run


def test_the_file_proposes_itself_as_an_idling_engine(
    idling: Capture, client_for: ClientFor, cast: Cast
) -> None:
    roles = ChannelRoles.from_json(idling.reading.roles)
    names = [c["name"] for c in idling.reading.channels]
    assert roles.running == names.index("crank")
    assert roles.sync is not None
    assert (roles.sync.channel, roles.sync.every_deg) == (names.index("coil"), 720)
    page = client_for(cast.diagnostician).get(reverse("traces:setup", args=[idling.pk]))
    form = page.context["form"]
    assert form["signal"].value() == "running-teeth"
    assert (form["current_channel"].value(), form["sync_channel"].value()) == ("crank", "coil")


def test_the_page_tells_contributions_and_no_compression(
    judged: Run, client_for: ClientFor, cast: Cast
) -> None:
    assert judged.verdict == "uneven"
    assert judged.setup.fuel_off is None
    report = judged.report
    assert report is not None
    assert report.candidates == ((3,),)
    page = client_for(cast.diagnostician).get(reverse("traces:capture", args=[judged.capture_id]))
    text = page.content.decode()
    assert page.context["page"].outcome.sentence.startswith("Uneven at idle: cylinder 3")
    assert 'id="by-hand"' not in text
    assert 'id="compare"' not in text
    outcome = RunOutcome(judged, report, judged.setup.analysis)
    figure = run_figure(judged, View())
    assert figure["layout"]["yaxis"]["title"]["text"] == outcome.shown.axis
    assert [grade for _, grade in outcome.graded].count("even") == 3
    assert outcome.starter is None
    assert outcome.picture is None


def test_the_api_takes_and_tells_it(
    judged: Run, idling: Capture, client_for: ClientFor, cast: Cast
) -> None:
    client = client_for(cast.diagnostician)
    result = json.loads(client.get(reverse("traces:result", args=[idling.pk, judged.pk])).content)
    assert result["signal"] == "running-teeth"
    assert result["running"]["grades"].count("dead") == 1


def test_a_case_takes_it_along(
    judged: Run, idling: Capture, client_for: ClientFor, cast: Cast, add_read
) -> None:
    client = client_for(cast.diagnostician)
    sent = client.get(reverse("traces:case", args=[idling.pk, judged.pk]), {"part": "whole"})
    case = b"".join(sent)
    assert zipfile.is_zipfile(io.BytesIO(case))
    there = add_read(case, name="colleague.case.zip")
    page = client.get(reverse("traces:capture", args=[there.pk]))
    assert page.context["sent"].case.setup.flywheel == "one-piece"
    assert page.context["sent"].headline.startswith("Uneven at idle")
