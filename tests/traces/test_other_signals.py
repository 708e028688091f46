"""Battery voltage and crank teeth on the command line, on pages and in the API."""

import base64
import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from engines.core.firing import FiringOrder
from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.wording import named, says, says_only
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.signal_kinds import Signal
from traces.models import Capture, Run
from traces.runs.analysing import run_analyse
from traces.selectors.cursor_values import Cursors, run_values
from traces.selectors.figure_marks import View
from traces.selectors.figures import run_evidence, run_figure
from traces.services import run_add
from traces.simulator.export import to_csv
from traces.simulator.other_signals import tooth_capture, voltage_capture
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate
from traces.simulator.tooth_sensor import ToothSensor
from traces.simulator.voltage_log import VoltageLog

ClientFor = Callable[[Member], Client]
CHANNEL: dict[Signal, str] = {"battery-voltage": "battery", "crank-teeth": "crank"}


REAL = Path(__file__).resolve().parents[3] / "shared" / "real"


@pytest.fixture(scope="module")
def real() -> Path:
    if not REAL.is_dir():
        if os.environ.get("CI"):
            pytest.fail("CI must have the measured recordings beside the project.")
        pytest.skip("The measured recordings are not beside the project.")
    return REAL


@pytest.fixture(scope="module")
def crank() -> Simulated:
    """A four-cylinder engine with one dead cylinder."""
    return simulate(draw(82, layout="I4", fault="dead", sync="720"))


@pytest.fixture(scope="module")
def recordings(crank: Simulated, tmp_path_factory) -> dict[Signal, Path]:
    """That crank, recorded by both signals."""
    folder = tmp_path_factory.mktemp("other")
    voltage, _ = voltage_capture(crank, VoltageLog(rate_hz=2000.0, bits=12))
    teeth, _ = tooth_capture(crank, ToothSensor(rate_hz=20_000.0))
    made: dict[Signal, Path] = {
        "battery-voltage": folder / "voltage.csv",
        "crank-teeth": folder / "teeth.csv",
    }
    to_csv(voltage, made["battery-voltage"])
    to_csv(teeth, made["crank-teeth"])
    return made


@pytest.fixture
def judged(
    crank: Simulated,
    recordings: dict[Signal, Path],
    add_read: Callable[..., Capture],
    cast: Cast,
    engine: Engine,
) -> Callable[[Signal], Run]:
    def make(signal: Signal) -> Run:
        capture = add_read(recordings[signal].read_bytes(), name=recordings[signal].name)
        told = crank.scenario.setup()
        run = run_add(
            member=cast.diagnostician,
            capture=capture,
            engine=engine,
            analysis=AnalysisSetup(
                told.firing_order, CHANNEL[signal], 1000.0, sync=told.sync, signal=signal
            ),
        )
        assert run_analyse(run.pk)
        run.refresh_from_db()
        return run

    return make


def balance(capsys, *arguments: str) -> dict[str, Any]:
    call_command("balance", *arguments, "--json")
    return dict(json.loads(capsys.readouterr().out))


class TestPlainReading:
    """A report of the plain reading has no fitted cycle; its pages open all the same."""

    @pytest.fixture
    def run(self, real: Path, add_read: Callable[..., Capture], cast: Cast, engine: Engine) -> Run:
        name = "i4-battery-voltage-plugs-in-long.csv"
        capture = add_read((real / name).read_bytes(), name=name)
        sync = SyncSetup("Injectors", 3, "injector", bit=2)
        order = FiringOrder.parse("1-3-4-2")
        run = run_add(
            member=cast.diagnostician,
            capture=capture,
            engine=engine,
            analysis=AnalysisSetup(order, "VBatt", 1000.0, sync=sync, signal="battery-voltage"),
        )
        assert run_analyse(run.pk)
        run.refresh_from_db()
        return run

    def test_its_pages_open(self, run: Run, cast: Cast, client_for: ClientFor) -> None:
        assert run.report is not None
        assert (run.report.method, run.report.verdict) == ("plain", "even")
        client = client_for(cast.diagnostician)
        response = client.get(reverse("traces:capture", args=[run.capture_id]))
        assert response.status_code == 200
        assert "read plainly" in response.content.decode()
        assert run_figure(run, View()) is not None


class TestCommand:
    @pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
    def test_it_names_the_dead_cylinder(
        self, crank: Simulated, recordings, capsys, signal: Signal
    ) -> None:
        sync = crank.scenario.setup().sync
        assert sync is not None
        result = balance(
            capsys,
            str(recordings[signal]),
            "--signal",
            signal,
            "--channel",
            CHANNEL[signal],
            "--firing-order",
            str(crank.scenario.engine.firing_order),
            "--sync-channel",
            sync.channel,
            "--sync-cylinder",
            str(sync.cylinder),
            "--sync-event",
            sync.event,
        )
        assert (result["error"], result["candidates"]) == (None, [list(crank.truth.low)])
        assert result["signal"] == signal
        assert "lower-trust" in {f["code"] for f in result["findings"]}

    def test_a_measured_log_with_its_injectors_as_bits(self, real, capsys) -> None:
        result = balance(
            capsys,
            str(real / "i4-battery-voltage-plugs-in.csv"),
            "--signal",
            "battery-voltage",
            "--channel",
            "VBatt",
            "--firing-order",
            "1-3-4-2",
            "--sync-channel",
            "Injectors",
            "--sync-bit",
            "0",
            "--sync-cylinder",
            "1",
            "--sync-event",
            "injector",
        )
        assert result["error"] is None
        assert result["verdict"] != "uneven"
        assert result["cranking_rpm"] == pytest.approx(316, abs=6)

    @pytest.mark.parametrize(
        ("name", "rpm", "code"),
        [
            ("i3-crank-teeth-plugs-in.txt", 254, None),
            ("i3-crank-teeth-plugs-out.txt", 213, "no-compression"),
        ],
    )
    def test_measured_edge_times(self, real, capsys, name: str, rpm: float, code) -> None:
        result = balance(
            capsys,
            str(real / name),
            "--signal",
            "crank-teeth",
            "--channel",
            "edges",
            "--firing-order",
            "1-2-3",
        )
        assert result["error"] is None
        assert result["cranking_rpm"] == pytest.approx(rpm, abs=3)
        stops = [f["code"] for f in result["findings"] if f["severity"] == "stop"]
        assert code is None or stops == [code]

    def test_a_clamp_still_needs_its_scale(self, recordings, capsys) -> None:
        path = recordings["battery-voltage"]
        with pytest.raises(SystemExit):
            call_command("balance", str(path), "--channel", "battery", "--firing-order", "1-3-4-2")
        assert "--mv-per-a" in capsys.readouterr().err


class TestPages:
    @pytest.mark.parametrize(
        "shown",
        [
            (
                "battery-voltage",
                "V",
                "battery voltage, lower trust",
                "signal_findings.judged-from-battery-voltage",
            ),
            (
                "crank-teeth",
                "revolutions a minute",
                "teeth, lower trust",
                "signal_findings.judged-from-crank-sensor",
            ),
        ],
    )
    def test_the_result_says_what_was_judged_and_shows_it_in_its_unit(
        self,
        judged: Callable[[Signal], Run],
        cast: Cast,
        client_for: ClientFor,
        shown: tuple[Signal, str, str, str],
    ) -> None:
        signal, axis, words, trust = shown
        run = judged(signal)
        address = reverse("traces:capture", args=[run.capture_id])
        text = client_for(cast.diagnostician).get(address).content.decode()
        assert words in text
        assert says(text, trust)
        figure = run_figure(run, View())
        assert figure["layout"]["yaxis"]["title"]["text"] == axis
        marks = [t for t in figure["data"][1:] if "markers" in t["mode"]]
        assert marks
        assert all(" A " not in t["hovertemplate"] for t in marks)

    def test_voltage_is_drawn_as_recorded(self, judged: Callable[[Signal], Run]) -> None:
        figure = run_figure(judged("battery-voltage"), View())
        # more points than any screen shows are thinned, the extremes stay
        y = _numbers(figure["data"][0]["y"])
        assert 5.0 < np.nanmin(y) < np.nanmax(y) < 14.0

    @pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
    def test_a_narrow_screen_gets_few_points_of_what_plotly_takes(
        self, judged: Callable[[Signal], Run], signal: Signal
    ) -> None:
        figure = run_figure(judged(signal), View(pixels=100))
        curve = figure["data"][0]
        assert len(curve["x"]) == _numbers(curve["y"]).size <= 200
        text = re.sub('"token:[a-z-]+"', '"black"', json.dumps(figure, allow_nan=False))
        # raises for what is not in the schema
        assert len(go.Figure(json.loads(text)).data) == len(figure["data"])

    @pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
    def test_cursors_read_the_signals_own_unit(
        self, judged: Callable[[Signal], Run], signal: Signal
    ) -> None:
        run = judged(signal)
        row = run_values(run, Cursors(1.5, 2.0))["channels"][0]
        low, high = {"battery-voltage": (5.0, 14.0), "crank-teeth": (50.0, 500.0)}[signal]
        assert low < row["minimum"] <= row["a"] <= row["maximum"] < high
        assert row["minimum"] < row["mean"] < row["maximum"]

    def test_speed_is_drawn_for_teeth(self, judged: Callable[[Signal], Run]) -> None:
        run = judged("crank-teeth")
        y = _numbers(run_figure(run, View())["data"][0]["y"])
        assert run.report is not None
        assert run.report.cranking_rpm is not None
        assert np.median(y) == pytest.approx(run.report.cranking_rpm, rel=0.15)
        part = run_figure(run, View(1.0, 1.5))["data"][0]
        x = _numbers(part["x"])
        assert 1.0 <= x.min() <= x.max() <= 1.5

    @pytest.mark.parametrize(
        ("signal", "axis"),
        [
            ("battery-voltage", named("display.battery-sag-volts")),
            ("crank-teeth", named("display.slowness-mean")),
        ],
    )
    def test_the_evidence_picture_names_its_axis_and_marks_the_low_one(
        self, judged: Callable[[Signal], Run], signal: Signal, axis: str
    ) -> None:
        picture = run_evidence(judged(signal))
        assert picture is not None
        assert says_only(picture.axis, axis)
        assert "suspect" in {h.word for h in picture.humps}
        assert "Cranking current" not in picture.words

    @pytest.mark.parametrize("signal", ["starter-current", "battery-voltage", "crank-teeth"])
    def test_the_set_up_page_asks_what_the_channel_shows(
        self,
        add_read: Callable[..., Capture],
        cast: Cast,
        client_for: ClientFor,
        signal: Signal,
    ) -> None:
        address = reverse("traces:setup", args=[add_read().pk])
        text = client_for(cast.diagnostician).get(address).content.decode()
        assert f'name="signal" value="{signal}"' in text
        assert 'class="only-clamp"' in text
        assert 'class="only-wheel"' in text


def _numbers(value: Any) -> np.ndarray:
    if isinstance(value, dict):
        return np.frombuffer(base64.b64decode(value["bdata"]), dtype=value["dtype"])
    return np.asarray(value)
