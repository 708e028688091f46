"""Pairs of captures judged from battery voltage or crank teeth lie on one axis too."""

import numpy as np
import pytest

from tests.wording import named, says, says_only
from traces.core.analysis.any_signal import judge
from traces.core.comparison.alignment import GRID_DEG
from traces.core.comparison.comparing import ComparedCapture, compare
from traces.core.setup.conditions import Conditions
from traces.simulator.other_signals import tooth_capture, voltage_capture
from traces.simulator.tooth_sensor import ToothSensor
from traces.simulator.voltage_log import VoltageLog

BENCH = VoltageLog(rate_hz=2000.0, bits=12, noise_v=0.005)


def _captured(simulated, signal):
    if signal == "voltage":
        return voltage_capture(simulated, BENCH)
    if signal == "teeth":
        return tooth_capture(simulated, ToothSensor(kind="coil"))
    return simulated.waveform, simulated.scenario.setup()


@pytest.fixture(scope="module")
def sides(cranked):
    made: dict[tuple[str, str], ComparedCapture] = {}
    for fault in ("none", "dead"):
        simulated = cranked(82, "I4", fault)
        for signal in ("current", "voltage", "teeth"):
            waveform, setup = _captured(simulated, signal)
            report = judge(waveform, setup)
            made[fault, signal] = ComparedCapture(f"{fault} capture", report, setup, Conditions())
    return made


@pytest.fixture(scope="module")
def dead(cranked) -> int:
    (low,) = cranked(82, "I4", "dead").truth.low
    return int(low)


@pytest.mark.parametrize(
    ("signal", "axis"),
    [
        ("current", named("comparing.amps-above-rest")),
        ("voltage", named("comparing.volts-sag")),
        ("teeth", named("comparing.slowness-over-mean")),
    ],
)
def test_what_is_lost_stands_at_the_dead_cylinder(sides, dead, signal, axis):
    found = compare(sides["none", signal], sides["dead", signal])
    (row,) = found.changed
    assert row.cylinder == dead
    curves = found.curves
    assert curves is not None
    assert says_only(curves.axis, axis)
    lost = curves.first / curves.first.mean() - curves.second / curves.second.mean()
    ahead_deg = (row.tdc_deg - GRID_DEG[int(np.argmax(lost))]) % 720
    assert ahead_deg < 60 or ahead_deg > 690


def test_two_signals_of_one_crank_give_figures_side_by_side(sides):
    found = compare(sides["dead", "current"], sides["dead", "voltage"])
    assert found.curves is None
    assert says(
        found.why_no_curves,
        "comparing.one-judged-from-other",
        second="battery voltage while cranking",
    )
    assert found.changed == ()
    assert next(r for r in found.conditions if r.label == "Mean current").second == "not known"
