"""Battery log and tooth sensor of the simulator: the physics they are meant to show."""

from dataclasses import replace

import numpy as np
import pytest

from traces.simulator.other_signals import CAPTURES, tooth_capture, voltage_capture
from traces.simulator.scenarios import draw
from traces.simulator.simulate import Simulated, simulate
from traces.simulator.tooth_sensor import ToothSensor, draw_sensor, edge_times_s
from traces.simulator.voltage_log import VoltageLog, draw_log

CLEAN = VoltageLog(rate_hz=5000.0, bits=16, noise_v=0.0, surface_v=0.0, low_pass_hz=1e6)
EXACT = ToothSensor(spacing_deg=0.0, runout_deg=0.0, jitter_s=0.0)


@pytest.fixture(scope="module")
def simulated() -> Simulated:
    return simulate(draw(91, layout="I4", fault="one", sync="720"))


class TestVoltageLog:
    def test_it_is_the_batterys_voltage(self, simulated: Simulated) -> None:
        waveform, _ = voltage_capture(simulated, CLEAN)
        track = simulated.truth.track
        times_s = np.arange(waveform.samples) / waveform.rate_hz
        wanted = np.interp(times_s, track.time_s, track.battery_v)
        assert waveform.channel("battery").values == pytest.approx(wanted, abs=0.01)

    def test_a_shared_lead_adds_its_drop(self, simulated: Simulated) -> None:
        # U = R I (Ohm)
        one, _ = voltage_capture(simulated, CLEAN)
        other, _ = voltage_capture(simulated, replace(CLEAN, lead_ohm=0.001))
        drop = one.channel("battery").values - other.channel("battery").values
        track = simulated.truth.track
        times_s = np.arange(one.samples) / one.rate_hz
        current_a = np.interp(times_s, track.time_s, track.cable_a)
        assert drop == pytest.approx(0.001 * current_a, abs=0.01)

    def test_surface_charge_goes_with_cranking(self, simulated: Simulated) -> None:
        bare, _ = voltage_capture(simulated, CLEAN)
        charged, _ = voltage_capture(simulated, replace(CLEAN, surface_v=0.4, surface_s=0.3))
        more = charged.channel("battery").values - bare.channel("battery").values
        assert more[10] == pytest.approx(0.4, abs=0.01)
        assert more[-10] == pytest.approx(0.0, abs=0.01)

    def test_ten_bits_leave_steps(self, simulated: Simulated) -> None:
        log = replace(CLEAN, bits=10, range_v=20.48)
        values = voltage_capture(simulated, log)[0].channel("battery").values
        steps = np.diff(np.unique(np.round(values, 5)))
        assert steps.min() == pytest.approx(0.02, abs=1e-4)

    def test_a_slow_log_holds_the_sync_as_a_bit(self, simulated: Simulated) -> None:
        waveform, setup = voltage_capture(simulated, replace(CLEAN, rate_hz=200.0))
        sync = waveform.channel("coil").values
        assert set(np.unique(sync)) == {0.0, 1.0}
        begins = np.flatnonzero(np.diff(sync) > 0) + 1
        assert begins / 200.0 == pytest.approx(simulated.truth.sync_s, abs=0.006)
        assert setup.signal == "battery-voltage"


class TestToothSensor:
    def test_edges_come_when_the_crank_stands_at_a_tooth(self, simulated: Simulated) -> None:
        times_s = edge_times_s(simulated.scenario, simulated.truth.track, EXACT)
        track = simulated.truth.track
        angle_deg = np.rad2deg(np.interp(times_s, track.time_s, track.angle_rad))
        off = (angle_deg - EXACT.first_deg) / 6.0
        turning = np.interp(times_s, track.time_s, track.engine_rad_s) > 10
        # between steps of half a millisecond a straight line is a little off
        assert off[turning] == pytest.approx(np.rint(off[turning]), abs=0.02)

    def test_missing_teeth_leave_their_gap(self) -> None:
        assert EXACT.places.size == 58
        assert EXACT.places.max() == 57
        two = ToothSensor(teeth=36, gaps=(2, 2))
        assert sorted(set(range(36)) - set(two.places.astype(int))) == [10, 11, 34, 35]

    def test_a_coils_voltage_grows_with_speed(self, simulated: Simulated) -> None:
        sensor = replace(EXACT, kind="coil", noise_share=0.0, bits=16)
        waveform, _ = tooth_capture(simulated, sensor)
        volts = waveform.channel("crank").values.astype(np.float64)
        track = simulated.truth.track
        times_s = np.arange(volts.size) / waveform.rate_hz
        speed = np.interp(times_s, track.time_s, track.engine_rad_s)
        # induction: the peaks follow d(flux)/dt, so speed
        window = round(0.02 * waveform.rate_hz)
        blocks = volts.size // window
        peaks = volts[: blocks * window].reshape(blocks, window).max(axis=1)
        speeds = speed[: blocks * window].reshape(blocks, window).mean(axis=1)
        # not in the gap, where no tooth passes for 20 ms and more
        fast = (speeds > 10) & (peaks > 0.5 * np.median(peaks[speeds > 10]))
        assert np.corrcoef(peaks[fast], speeds[fast])[0, 1] > 0.95

    def test_a_switch_has_two_levels(self, simulated: Simulated) -> None:
        sensor = replace(EXACT, kind="switch", noise_share=0.0)
        values = tooth_capture(simulated, sensor)[0].channel("crank").values
        assert np.unique(np.round(values)).tolist() == [0.0, 5.0]


@pytest.mark.parametrize("signal", ["battery-voltage", "crank-teeth"])
def test_the_same_seed_gives_the_same_samples(simulated: Simulated, signal) -> None:
    one, _ = CAPTURES[signal](simulated)
    other, _ = CAPTURES[signal](simulated)
    for a, b in zip(one.channels, other.channels, strict=True):
        assert np.array_equal(a.values, b.values)


def test_seeds_differ_in_how_they_are_recorded() -> None:
    assert len({draw_log(seed) for seed in range(20)}) == 20
    assert len({draw_sensor(seed) for seed in range(20)}) == 20
