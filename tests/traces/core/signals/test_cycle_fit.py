"""The mean cycle as measured and as fitted, by crank angle, for every signal."""

import numpy as np
import pytest

from traces.core.analysis.any_signal import judge
from traces.simulator.other_signals import tooth_capture, voltage_capture
from traces.simulator.tooth_sensor import ToothSensor
from traces.simulator.voltage_log import VoltageLog

BENCH = VoltageLog(rate_hz=2000.0, bits=12, noise_v=0.005)


@pytest.fixture(scope="module")
def judged(cranked):
    simulated = cranked(82, "I4", "dead")
    return {
        "current": judge(simulated.waveform, simulated.scenario.setup()),
        "voltage": judge(*voltage_capture(simulated, BENCH)),
        "teeth": judge(*tooth_capture(simulated, ToothSensor(kind="coil"))),
    }


@pytest.mark.parametrize("signal", ["current", "voltage", "teeth"])
def test_the_fitted_cycle_runs_through_the_measured_one(judged, signal):
    fit = judged[signal].parts.cycle_fit
    measured, model = np.array(fit.measured), np.array(fit.model)
    angle_deg = np.array(fit.angle_deg)
    assert measured.size == model.size == angle_deg.size
    assert (np.diff(angle_deg) > 0).all()
    assert angle_deg[-1] - angle_deg[0] > 700
    off = measured - model
    assert float(np.std(off)) < 0.2 * float(np.std(measured))


@pytest.mark.parametrize("signal", ["current", "voltage", "teeth"])
def test_compressions_end_where_the_firing_order_says(judged, signal):
    report = judged[signal]
    tdc_deg = np.array(report.parts.cycle_fit.tdc_deg)
    assert np.diff(tdc_deg) % 720 == pytest.approx([180.0] * 3, abs=0.2)
    # the event comes a little before the sync cylinder's own top dead centre
    assert (tdc_deg[0] + 40) % 720 < 80


def test_the_dead_cylinder_has_no_hump_where_its_own_should_be(judged):
    report = judged["current"]
    fit = report.parts.cycle_fit
    angle_deg, measured = np.array(fit.angle_deg), np.array(fit.measured)
    near = {
        e.cylinder: float(np.interp(tdc, angle_deg, measured, period=720.0))
        for e, tdc in zip(report.estimates, fit.tdc_deg, strict=True)
    }
    assert min(near, key=lambda c: near[c]) in report.candidates[0]


def test_levels_are_in_the_signal_s_own_unit(judged):
    current = judged["current"]
    fit = current.parts.cycle_fit
    tops_a = [h.current_a for h in current.humps]
    assert min(tops_a) < fit.level * max(fit.measured) < 1.2 * max(tops_a)
    sag = judged["voltage"].parts.cycle_fit
    assert 0.1 < sag.level < 6.0
    assert 10.0 < sag.rest < 14.0


@pytest.mark.parametrize("signal", ["voltage", "teeth"])
def test_figures_by_cycle_are_those_of_the_cycles_used(judged, signal):
    report = judged[signal]
    used = [c for c in report.engine_cycles if c.used]
    assert len(used) == len(report.estimates[0].per_cycle) == report.cycles
