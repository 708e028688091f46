"""One cylinder's pressure through every door: proposal, set-up, worker, page, API, case."""

import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from engines.models import Engine
from shopdiag.people.models import Member
from shopdiag.people.services import token_create
from tests.conftest import Cast
from tests.traces.setup_form import filled_in
from traces.core.proposal import ChannelRoles
from traces.core.setup import SetupError
from traces.models import Capture, Run
from traces.runs.analysing import run_analyse
from traces.selectors.captures import RunOutcome
from traces.selectors.figure_marks import View
from traces.selectors.figures import run_figure
from traces.selectors.pressure_page import pressure_page
from traces.services import KnownGoodError, known_good_keep, run_add
from traces.services.same_setup import run_like_add
from traces.simulator.pressure import PressureCase, pressure_capture

ClientFor = Callable[[Member], Client]
CASE = PressureCase(rate_hz=5_000.0, rest_s=1.0)
BLOCKED = replace(CASE, seed=5, exhaust_kpa=CASE.air_kpa + 40.0)
IDLING = replace(
    CASE, seed=9, rpm=750.0, intake_kpa=38.0, swing=0.01, wall_k=380.0, exhaust_k=600.0, cycles=20
)
TOLD = {
    "signal": "cylinder-pressure",
    "scale": "",
    "current_channel": "pressure",
    "pressure_cylinder": "3",
    "pressure_scale": "500",
    "compression_ratio": "10.5",
    # hidden for a transducer, and no matter
    "sync_channel": "",
    "sync_cylinder": "",
    "opened_plug": "2",
}


def codes(run: Run) -> list[str]:
    """Return what was noticed."""
    assert run.report is not None
    return [f.code for f in run.report.findings]


@cache
def recorded(case: PressureCase) -> bytes:
    """Return a file of a case, with a flat channel beside it."""
    volts = pressure_capture(case).waveform.channels[0].values
    time_s = np.arange(volts.size) / case.rate_hz
    file = io.BytesIO()
    np.savez(file, time=time_s, pressure=volts, spare=np.zeros(volts.size))
    return file.getvalue()


@pytest.fixture
def measure(add_read: Callable[..., Capture], cast: Cast, engine: Engine) -> Callable[..., Run]:
    """Take a case from its file to its report, as a person and the worker do."""

    def done(case: PressureCase, **told: str) -> Run:
        name = f"pressure-{case.seed}-{told.get('pressure_cylinder', 3)}.npz"
        capture = add_read(recorded(case), name=name)
        form = filled_in(capture.reading, cast.diagnostician, engine, **{**TOLD, **told})
        assert form.is_valid(), form.errors
        run = run_add(
            member=cast.diagnostician,
            capture=capture,
            engine=form.given.engine,
            analysis=form.given.analysis,
            conditions=form.given.conditions,
        )
        assert run_analyse(run.pk)
        run.refresh_from_db()
        return run

    return done


def test_the_file_proposes_itself_and_asks_scale_and_cylinder(
    add_read: Callable[..., Capture], client_for: ClientFor, cast: Cast, engine: Engine
) -> None:
    capture = add_read(recorded(CASE), name="crank.npz")
    roles = ChannelRoles.from_json(capture.reading.roles)
    assert roles.pressure is not None
    assert roles.pressure.rpm == pytest.approx(CASE.rpm, rel=0.02)
    # alone in a file it would pass for a starter's current
    assert roles.clamp is None
    address = reverse("traces:setup", args=[capture.pk])
    page = client_for(cast.diagnostician).get(address, {"engine": engine.pk})
    form = page.context["form"]
    assert form["signal"].value() == "cylinder-pressure"
    assert form["current_channel"].value() == "pressure"
    assert not form["pressure_cylinder"].value()
    assert not form["pressure_scale"].value()
    peaks = {tap.option.data["value"]: tap.words for tap in page.context["offer"].transducers}
    assert any(peaks.values())


def test_an_upside_down_transducer_is_no_clamp_and_refused(
    add_read: Callable[..., Capture], cast: Cast, engine: Engine
) -> None:
    volts = pressure_capture(CASE).waveform.channels[0].values
    file = io.BytesIO()
    np.savez(file, time=np.arange(volts.size) / CASE.rate_hz, pressure=3.0 - volts, spare=0 * volts)
    capture = add_read(file.getvalue(), name="turned.npz")
    assert ChannelRoles.from_json(capture.reading.roles).clamp is None
    form = filled_in(capture.reading, cast.diagnostician, engine, **TOLD)
    assert form.is_valid(), form.errors
    run = run_add(member=cast.diagnostician, capture=capture, analysis=form.given.analysis)
    assert run_analyse(run.pk)
    run.refresh_from_db()
    assert codes(run) == ["pressure-inverted"]


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"pressure_cylinder": ""}, "pressure_cylinder"),
        ({"pressure_cylinder": "7"}, "pressure_cylinder"),
        ({"pressure_scale": ""}, "pressure_scale"),
        ({"pressure_scale": "other"}, "pressure_scale_typed"),
        ({"pressure_scale": "500", "pressure_scale_typed": "250"}, "pressure_scale_typed"),
        ({"compression_ratio": "80"}, "__all__"),
    ],
)
def test_what_nobody_can_guess_is_asked(
    told: dict[str, str],
    field: str,
    add_read: Callable[..., Capture],
    cast: Cast,
    engine: Engine,
) -> None:
    capture = add_read(recorded(CASE), name="crank.npz")
    form = filled_in(capture.reading, cast.diagnostician, engine, **{**TOLD, **told})
    assert list(form.errors) == [field]


def test_the_page_tells_figures_and_no_compression_balance(
    measure: Callable[..., Run], client_for: ClientFor, cast: Cast
) -> None:
    run = measure(BLOCKED)
    assert run.verdict == "measured"
    assert run.setup.analysis.sync is None
    assert run.setup.analysis.opened_plug is None
    report = run.report
    assert report is not None
    assert "back-pressure" in codes(run)
    assert report.parts.pressure is not None
    back = report.parts.pressure.back_pressure_kpa
    assert back is not None
    assert back.value == pytest.approx(40.0, rel=0.1)
    page = client_for(cast.diagnostician).get(reverse("traces:capture", args=[run.capture_id]))
    text = page.content.decode()
    assert 'id="strokes"' in text
    assert 'id="gas-exchange"' in text
    assert 'id="by-volume"' in text
    assert 'id="by-hand"' not in text
    assert 'id="compare"' not in text
    rows = {row.key: row for row in page.context["pressure"].rows}
    assert rows["back_pressure_kpa"].value.startswith(f"{back.value:.1f}")
    assert all(rows[key].interval for key in ("peak_kpa", "loss_deg", "intake_kpa"))
    outcome = RunOutcome(run, report, run.setup.analysis)
    assert outcome.picture is None
    assert outcome.badge[1] == "watch"
    assert run_figure(run, View())["data"]


def test_another_scale_fits_no_cylinder(measure: Callable[..., Run]) -> None:
    run = measure(CASE, pressure_scale="other", pressure_scale_typed="9000")
    assert run.verdict == "not judged"
    assert codes(run) == ["pressure-scale"]


def test_a_known_good_capture_is_laid_beside_it(measure: Callable[..., Run], cast: Cast) -> None:
    good = measure(CASE)
    blocked = measure(BLOCKED)
    with pytest.raises(KnownGoodError):
        known_good_keep(member=cast.diagnostician, run=blocked)
    known_good_keep(member=cast.diagnostician, run=good)
    late = replace(CASE, seed=4, timing=CASE.timing.shifted(intake_deg=12.0))
    found = pressure_page(cast.diagnostician, measure(late))
    assert found is not None
    assert found.beside_run == good
    assert found.picture.beside
    moved = next(row for row in found.beside if row.key == "intake_cam_deg")
    assert moved.value.startswith(("10", "11", "12", "13", "14"))
    # nothing beside it on demand, nor one that idled
    alone = pressure_page(cast.diagnostician, blocked, "none")
    assert alone is not None
    assert alone.beside == ()
    idled = pressure_page(cast.diagnostician, measure(IDLING), str(good.pk))
    assert idled is not None
    assert (idled.beside, idled.picture.beside) == ((), "")
    assert idled.why_not


def test_its_set_up_is_carried_to_no_other_file(
    measure: Callable[..., Run], add_read: Callable[..., Capture], cast: Cast
) -> None:
    run = measure(CASE)
    other = add_read(recorded(BLOCKED), name="other.npz")
    with pytest.raises(SetupError):
        run_like_add(member=cast.diagnostician, capture=other, like=run.setup)


def test_the_api_takes_and_tells_it(add_read: Callable[..., Capture], cast: Cast) -> None:
    capture = add_read(recorded(CASE), name="crank.npz")
    _, key = token_create(member=cast.diagnostician, label="test")
    client = APIClient(headers={"Authorization": f"Token {key}"})
    sent = {
        "firing_order": "1-3-4-2",
        "current_channel": "pressure",
        "signal": "cylinder-pressure",
    }
    address = f"/api/captures/{capture.pk}/runs/"

    def post(**more: object):
        return client.post(address, sent | more, format="json")

    assert "pressure" in post().json()
    assert post(pressure={"cylinder": 5, "kpa_per_v": 500}).status_code == 400
    asked = post(pressure={"cylinder": 3, "kpa_per_v": 500})
    assert asked.status_code == 202, asked.content
    assert run_analyse(asked.json()["id"])
    told = client.get(f"/api/runs/{asked.json()['id']}/").json()["result"]
    assert told["verdict"] == "measured"
    assert told["extra"]["signal"] == "cylinder-pressure"
    assert told["extra"]["pressure"]["cylinder"] == 3


def test_a_case_takes_it_along(
    measure: Callable[..., Run],
    add_read: Callable[..., Capture],
    client_for: ClientFor,
    cast: Cast,
    tmp_path: Path,
) -> None:
    run = measure(CASE)
    client = client_for(cast.diagnostician)
    sent = client.get(reverse("traces:case", args=[run.capture_id, run.pk]), {"part": "whole"})
    case = b"".join(sent)
    assert zipfile.is_zipfile(io.BytesIO(case))
    there = add_read(case, name="colleague.case.zip")
    page = client.get(reverse("traces:capture", args=[there.pk]))
    assert page.context["sent"].case.setup.pressure.cylinder == 3
    assert page.context["sent"].case.result["verdict"] == "measured"


@pytest.mark.parametrize("part", [0.02, 0.3])
def test_a_file_that_is_too_short_is_refused(
    part: float, add_read: Callable[..., Capture], cast: Cast, engine: Engine
) -> None:
    volts = pressure_capture(CASE).waveform.channels[0].values
    volts = volts[: int(part * volts.size)]
    file = io.BytesIO()
    np.savez(file, time=np.arange(volts.size) / CASE.rate_hz, pressure=volts, spare=0 * volts)
    capture = add_read(file.getvalue(), name="short.npz")
    form = filled_in(capture.reading, cast.diagnostician, engine, **TOLD)
    assert form.is_valid(), form.errors
    run = run_add(member=cast.diagnostician, capture=capture, analysis=form.given.analysis)
    assert run_analyse(run.pk)
    run.refresh_from_db()
    assert run.verdict == "not judged"
    assert set(codes(run)) <= {"too-short", "no-signal", "pressure-noise"}
