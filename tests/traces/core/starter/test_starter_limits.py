"""What a capture does not allow is null with a reason, or limited with one."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.traces.core.starter.circuit import Circuit, figures_of, starter_of
from tests.traces.simulated import simulated_together
from tests.wording import says, says_only
from traces.core.judging.pipeline import analyse
from traces.core.waveform.waveform import Channel
from traces.simulator.scenario import Scenario
from traces.simulator.scenarios import draw


def _with(circuit, **channels):
    waveform = circuit.waveform()
    changed = tuple(
        Channel(c.name, channels[c.name][0], np.asarray(channels[c.name][1], dtype=np.float32))
        if c.name in channels
        else c
        for c in waveform.channels
    )
    return replace(waveform, channels=changed)


FLAWED = [("engine-catches", seed) for seed in range(4_711, 4_717)]
FLAWED += [(flaw, 4_711) for flaw in ("battery-collapse", "wrong-cable", "no-signal")]


@simulated_together
def _captures() -> dict[tuple[str, int], Scenario]:
    drawn = {
        (flaw, seed): draw(seed, layout="I4", fault="none", flaw=flaw, sync="720")
        for flaw, seed in FLAWED
    }
    return {k: replace(s, record_battery=True) for k, s in drawn.items()}


@pytest.fixture(scope="module")
def flawed():
    """Return capture and report of an engine, by its flaw and seed."""
    captures = _captures()

    def of(flaw, seed=4_711):
        simulated = captures[flaw, seed]
        setup = replace(simulated.scenario.setup(), voltage_channel="battery")
        report: Any = analyse(simulated.waveform, setup)
        return simulated, report

    return of


def test_a_capture_from_mid_crank_has_no_inrush():
    found = figures_of(Circuit(), slice(5000, None))
    assert found.inrush_peak_a is None
    assert "mid-crank" in str(found.not_known["inrush_peak_a"])
    assert found.rest_v is None
    assert found.steady_resistance_mohm is None
    assert found.mean_current_a == pytest.approx(160.0, rel=0.01)
    assert found.ripple_resistance_mohm == pytest.approx(6.0, rel=0.01)


def test_a_wrong_scale_hides_amps_and_resistances_and_keeps_volts_and_speed():
    found = figures_of(Circuit(), mv_per_a=100.0)
    for name in ("inrush_peak_a", "mean_current_a", "ripple_resistance_mohm"):
        assert getattr(found, name) is None
        assert "scale" in str(found.not_known[name])
    assert found.cranking_rpm == pytest.approx(220.0, rel=0.003)
    assert found.mean_cranking_v == pytest.approx(11.64, abs=0.01)
    assert not [n for n in found.notes if n.figure == "mean_current_a"]


def test_shares_of_full_scale_are_no_amps():
    circuit = Circuit(units=(None, "V", "V"))
    found = figures_of(circuit)
    assert found.mean_current_a is None
    assert "full scale" in str(found.not_known["mean_current_a"])
    known = figures_of(circuit, full_scale_v=1.0)
    assert known.mean_current_a == pytest.approx(160.0, rel=0.01)


@pytest.mark.parametrize(("rate_hz", "limited"), [(400.0, True), (1000.0, False)])
def test_a_slow_recorder_shows_less_than_the_true_inrush(rate_hz, limited):
    found = figures_of(Circuit(rate_hz=rate_hz))
    assert ("inrush_peak_a" in found.limited) is limited
    assert ("inrush_minimum_v" in found.limited) is limited
    if limited:
        assert says(found.limited["inrush_peak_a"], "measure.true-peak-higher-samples", rate_hz=400)
        assert says(
            found.limited["inrush_minimum_v"], "inrush.true-minimum-lower-samples", rate_hz=400
        )
        assert found.inrush_peak_a < 620.0 + 3.0


def test_an_inrush_that_is_cut_off_is_a_lower_bound_and_gives_no_resistance():
    found = figures_of(Circuit(clip_a=400.0))
    assert found.inrush_peak_a == pytest.approx(400.0, rel=0.02)
    assert "cut off" in str(found.limited["inrush_peak_a"])
    assert found.inrush_resistance_mohm is None
    assert found.mean_current_a == pytest.approx(160.0, rel=0.01)
    assert found.ripple_resistance_mohm == pytest.approx(6.0, rel=0.01)


def test_humps_that_are_cut_off_give_no_mean():
    found = figures_of(Circuit(clip_a=175.0))
    assert found.mean_current_a is None
    assert "cut off" in str(found.not_known["mean_current_a"])
    assert found.ripple_resistance_mohm is None


def test_a_crank_that_ends_in_the_run_up_has_an_inrush_alone():
    found = figures_of(Circuit(crank_s=0.35))
    assert found.inrush_peak_a == pytest.approx(620.0, rel=0.02)
    assert found.mean_current_a is None
    assert "run up" in str(found.not_known["mean_current_a"])
    assert found.inrush_minimum_v == pytest.approx(12.6 - 3.72, abs=0.1)


def test_without_compressions_the_speed_comes_from_the_sync():
    found = figures_of(Circuit(ripple_a=0.0))
    assert found.cranking_rpm == pytest.approx(220.0, rel=0.005)
    assert says_only(found.limited["cranking_rpm"], "measure.from-sync-events-alone")
    assert found.ripple_resistance_mohm is None
    alone = figures_of(Circuit(ripple_a=0.0), sync=None)
    assert alone.cranking_rpm is None
    assert "no compressions" in str(alone.not_known["cranking_rpm"])
    assert alone.mean_current_a == pytest.approx(160.0, rel=0.01)


@pytest.mark.parametrize("seed", range(4_711, 4_717))
def test_an_engine_that_catches_still_has_figures_of_the_crank_before(flawed, seed):
    simulated, report = flawed("engine-catches", seed)
    assert report.verdict == "not judged"
    found = report.starter
    assert found.inrush_peak_a == pytest.approx(simulated.truth.peak_a, rel=0.06)
    assert found.recovered_v is None
    assert not [n for n in found.notes if n.figure == "trend_rpm_per_s"]
    if found.mean_current_a is not None:
        # the truth's stretch begins a whole cycle after the start: run-up is in a short one here
        assert found.mean_current_a == pytest.approx(simulated.truth.mean_a, rel=0.35)


def test_a_failing_battery_shows_in_the_trend(flawed):
    _, report = flawed("battery-collapse")
    found = report.starter
    assert found.inrush_peak_a is not None
    if found.trend_rpm_per_s is None:
        assert found.not_known["trend_rpm_per_s"]
    else:
        assert found.trend_rpm_per_s < 0


def test_the_wrong_cable_has_no_starter_figures(flawed):
    _, report = flawed("wrong-cable")
    assert report.starter is None or report.starter.mean_current_a is None


def test_a_dead_clamp_has_none(flawed):
    _, report = flawed("no-signal")
    assert report.starter is None


def test_a_channel_in_amps_is_no_battery():
    circuit = Circuit(units=("V", "V", "A"))
    found = figures_of(circuit)
    assert found.rest_v is None
    assert "holds no volts" in str(found.not_known["rest_v"])


def test_millivolts_and_swapped_leads_are_read_as_volts():
    circuit = Circuit()
    volts = circuit.waveform().channels[2].values
    found = starter_of(_with(circuit, battery=("mV", -1000.0 * volts)), circuit.setup())
    assert found.rest_v == pytest.approx(12.6, abs=0.01)
    assert found.ripple_resistance_mohm == pytest.approx(6.0, rel=0.01)


def test_a_probe_with_a_divider_is_noticed():
    circuit = Circuit()
    found = starter_of(
        _with(circuit, battery=("V", circuit.waveform().channels[2].values / 10)), circuit.setup()
    )
    assert "divider" in str(found.limited["rest_v"])
    assert not [n for n in found.notes if n.figure == "rest_v"]


def test_a_voltage_that_does_not_follow_gives_no_resistance():
    circuit = Circuit()
    rng = np.random.default_rng(1)
    still = 12.4 + rng.normal(0, 0.01, circuit.time_s.size)
    found = starter_of(_with(circuit, battery=("V", still)), circuit.setup())
    assert found.ripple_resistance_mohm is None
    assert "does not fall" in str(found.not_known["ripple_resistance_mohm"])
    assert found.rest_v == pytest.approx(12.4, abs=0.01)


def test_an_empty_voltage_channel_is_said():
    circuit = Circuit()
    empty = np.full(circuit.time_s.size, np.nan)
    found = starter_of(_with(circuit, battery=("V", empty)), circuit.setup())
    assert "holds no volts" in str(found.not_known["rest_v"])


def test_the_drift_of_the_clamp_is_taken_out_where_rest_was_recorded_on_both_sides():
    circuit = Circuit()
    drifting = circuit.waveform().channels[0].values + 0.03 * circuit.time_s + 0.2
    found = starter_of(_with(circuit, clamp=("V", drifting)), circuit.setup())
    assert found.mean_current_a == pytest.approx(160.0, rel=0.01)


def test_a_voltage_that_rises_while_cranking_makes_no_resistance():
    circuit = Circuit()
    rising = np.where(circuit.cranking, 12.9, 12.6)
    found = starter_of(_with(circuit, battery=("V", rising)), circuit.setup())
    assert found.mean_cranking_v == pytest.approx(12.9, abs=0.01)
    assert found.steady_resistance_mohm is None
    assert says(found.not_known["steady_resistance_mohm"], "battery_voltage.voltage-does-not-fall")
