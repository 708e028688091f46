"""Battery voltage or crank teeth alone: what they say of the starter, and what they cannot."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces.core.starter.circuit import Circuit
from tests.wording import says, says_only
from traces.core.analysis.any_signal import judge
from traces.core.report.starter_figures import FIGURES
from traces.core.setup.analysis_setup import ToothWheel
from traces.core.signals.wheel import clearest_track
from traces.core.starter.without_current import figures_of_teeth
from traces.core.waveform.waveform import Channel


def _by_voltage(circuit: Circuit, **changes: Any) -> Any:
    setup = circuit.setup(
        current_channel="battery", signal="battery-voltage", voltage_channel=None, **changes
    )
    return judge(circuit.waveform(), setup).starter


def test_voltage_alone_gives_levels_and_speed_and_no_amps():
    circuit = Circuit()
    found = _by_voltage(circuit)
    assert found.cranking_rpm == pytest.approx(220.0, rel=0.003)
    assert abs(found.trend_rpm_per_s) < 0.6
    assert found.rest_v == pytest.approx(12.6, abs=0.01)
    assert found.inrush_minimum_v == pytest.approx(circuit.voltage_v().min(), abs=0.05)
    assert found.mean_cranking_v == pytest.approx(12.6 - 0.96, abs=0.03)
    for name in FIGURES:
        if name.endswith(("_a", "_mohm")):
            assert getattr(found, name) is None
            assert says_only(found.not_known[name], "without_current.no-current-recorded")
    assert {n.figure for n in found.notes} >= {"cranking_rpm", "rest_v", "mean_cranking_v"}


def test_each_null_of_voltage_alone_has_its_reason():
    for circuit in (Circuit(), Circuit(rest_s=0.0), Circuit(rate_hz=500.0)):
        found = _by_voltage(circuit)
        assert set(found.not_known) == {n for n in FIGURES if getattr(found, n) is None}


def _teeth(rpm: float, rpm_per_s: float, seconds: float = 5.0) -> tuple[np.ndarray, np.ndarray]:
    """Return tooth times and angles of a speed that swings with four compressions a cycle."""
    time_s = np.arange(0, seconds, 1e-4)
    turned = 6.0 * (rpm * time_s + 0.5 * rpm_per_s * time_s**2)
    swung = turned + 3.0 * np.sin(np.deg2rad(2 * turned))
    angles = np.arange(0.0, swung[-1], 10.0)
    return np.interp(angles, swung, time_s), angles


@pytest.mark.parametrize("rpm_per_s", [0.0, -6.0])
def test_teeth_alone_give_speed_and_trend(rpm_per_s):
    times_s, angle_deg = _teeth(240.0, rpm_per_s)
    found: Any = figures_of_teeth(times_s, angle_deg, judged_s=None, fuel="petrol")
    middle = 240.0 + rpm_per_s * 2.5
    assert found.cranking_rpm == pytest.approx(middle, rel=0.01)
    assert found.trend_rpm_per_s == pytest.approx(rpm_per_s, abs=0.2)
    assert found.trend_low_rpm_per_s - 0.1 < rpm_per_s < found.trend_high_rpm_per_s + 0.1
    assert "voltage" in str(found.not_known["rest_v"])
    assert "current" in str(found.not_known["mean_current_a"])


def test_few_teeth_have_a_reason():
    times_s, angle_deg = _teeth(240.0, 0.0, seconds=0.3)
    found = figures_of_teeth(times_s, angle_deg, judged_s=None, fuel="petrol")
    assert found.cranking_rpm is None
    assert "run up" in str(found.not_known["cranking_rpm"])


@pytest.mark.parametrize(("name", "rpm"), [("plugs-in", 254.0), ("plugs-out", 213.0)])
def test_measured_teeth_have_the_speed_of_their_log(real, name, rpm):
    """Crank sensor of a three-cylinder engine, from the logs of an open engine controller."""
    edges_s = np.loadtxt(real / f"i3-crank-teeth-{name}.txt", comments="#")
    edges_s = edges_s[:, 0] if edges_s.ndim > 1 else edges_s
    track = clearest_track((edges_s, np.empty(0)), ToothWheel())
    found = figures_of_teeth(track.times_s, track.angle_deg, judged_s=None, fuel="petrol")
    assert found.cranking_rpm == pytest.approx(rpm, rel=0.03)


def test_a_swapped_probe_is_no_current():
    circuit = Circuit()
    waveform = circuit.waveform()
    still = Channel("battery", "V", np.full(waveform.samples, 12.4, dtype=np.float32))
    flat = replace(waveform, channels=(*waveform.channels[:2], still))
    setup = circuit.setup(current_channel="battery", signal="battery-voltage", voltage_channel=None)
    assert judge(flat, setup).starter is None


def test_a_minimum_at_which_the_recording_is_cut_off_says_so():
    circuit = Circuit()
    waveform = circuit.waveform()
    cut = np.maximum(waveform.channel("battery").values, np.float32(10.0))
    waveform = replace(waveform, channels=(*waveform.channels[:2], Channel("battery", "V", cut)))
    setup = circuit.setup(current_channel="battery", signal="battery-voltage", voltage_channel=None)
    found: Any = judge(waveform, setup).starter
    assert found.inrush_minimum_v == pytest.approx(10.0)
    assert says(found.limited["inrush_minimum_v"], "inrush.true-minimum-lower-recording")
