"""Crank-sensor teeth: what is judged from them, measured and simulated."""

from dataclasses import replace

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.signals.measured import measured
from tests.traces.core.signals.teeth import COIL, SWITCH, swinging, tooth_times_s, wheel_of
from traces.core.analysis.any_signal import judge
from traces.core.setup.analysis_setup import AnalysisSetup, ToothWheel
from traces.core.signals.edges import edge_times_s
from traces.core.signals.teeth_method import tooth_cycles
from traces.core.signals.tooth_preparation import turning
from traces.core.signals.wheel import clearest_track
from traces.core.waveform.waveform import Channel, Waveform
from traces.simulator.other_signals import tooth_capture
from traces.simulator.tooth_sensor import ToothSensor

SETUP = AnalysisSetup(FiringOrder.parse("1-2-3"), "edges", 1000.0, signal="crank-teeth")


class TestMeasured:
    """Edge times of a three-cylinder engine; what they must show: the README beside them."""

    def test_with_plugs_in_speed_and_wheel_are_right(self, real) -> None:
        report = judge(measured(real / "i3-crank-teeth-plugs-in.txt"), SETUP)
        assert report.cranking_rpm == pytest.approx(254, abs=3)
        # two gaps of two teeth each in a turn of 36, by the file's own intervals
        assert report.parts.teeth is not None
        assert (report.parts.teeth.teeth, report.parts.teeth.missing) == (36, 4)

    def test_two_large_accelerations_and_a_weak_one_come_every_720_degrees(self, real) -> None:
        waveform = measured(real / "i3-crank-teeth-plugs-in.txt")
        track = clearest_track(edge_times_s(waveform, waveform.channel("edges")), ToothWheel())
        middle = (track.angle_deg[1:] + track.angle_deg[:-1]) / 2
        even = np.arange(middle[0], middle[-1], 2.0)
        rpm = np.interp(even, middle, track.speeds_deg_s / 6)
        # it repeats after two turns, and not after one
        late = 360

        def likeness(lag):
            return np.corrcoef(rpm[:-lag], rpm[lag:])[0, 1]

        assert likeness(late) > 0.95
        assert likeness(late // 2) < 0.5
        teeth = judge(waveform, SETUP).parts.teeth
        assert teeth is not None
        swings = _accelerations(teeth.speed_by_angle)
        assert len(swings) == 3
        weak, *large = sorted(swings)
        assert weak < 80
        assert min(large) > 250

    def test_with_plugs_out_there_is_no_compression(self, real) -> None:
        report = judge(measured(real / "i3-crank-teeth-plugs-out.txt"), SETUP)
        assert report.cranking_rpm == pytest.approx(213, abs=2)
        assert report.verdict == "not judged"
        assert [f.code for f in report.findings if f.severity == "stop"] == ["no-compression"]
        assert (report.estimates, report.candidates) == ((), ())


# README beside the files: wheel and speed while cranking, plugs in or out, the engine running
LOGS = [
    ("i3-36-2-2-plugs-in-long.txt", "1-3-2", "36-2-2", 253.8, None),
    ("v6-36-2-1-1-plugs-in-falling.txt", "1-2-3-4-5-6", "36-2-1-1", 166, None),
    ("v6-36-2-1-1-plugs-in-events.csv", "1-2-3-4-5-6", "36-2-1-1", 166, None),
    ("v6-36-2-1-1-plugs-out-falling.txt", "1-2-3-4-5-6", "36-2-1-1", 163, "no-compression"),
    ("v6b-36-2-2-2-two-cams-cranking-1.csv", "1-2-3-4-5-6", "36-2-2-2", 240, None),
    ("i4f-60-2-crank-to-running-8ch.csv", "1-3-4-2", "60-2", 260, None),
    ("i4c-12plus1-plugs-out-1.csv", "1-3-4-2", "12+1", 188, "no-compression"),
    ("i4g-36-2-1-running.csv", "1-3-4-2", "36-2-1", 1418, "engine-caught"),
]


@pytest.mark.parametrize("log", LOGS, ids=[log[0] for log in LOGS])
def test_wheel_and_speed_of_measured_logs(real, log) -> None:
    name, order, wheel, rpm, stop = log
    setup = replace(SETUP, firing_order=FiringOrder.parse(order), current_channel="1")
    report = judge(measured(real / name), setup)
    assert report.parts.teeth is not None
    assert report.parts.teeth.pattern == wheel
    assert report.cranking_rpm == pytest.approx(rpm, rel=0.01)
    stops = {f.code for f in report.findings if f.severity == "stop"}
    if stop:
        assert stops == {stop}
    else:
        assert not stops & {"engine-caught", "no-compression", "teeth-unclear", "no-signal"}


def _accelerations(speed_by_angle) -> list[float]:
    """Return how much the speed rises from each valley to the next crest, in rpm."""
    speed = np.array([rpm for _, rpm in speed_by_angle])
    speed = np.convolve(np.r_[speed[-3:], speed, speed[:3]], np.ones(7) / 7, mode="valid")
    speed = np.roll(speed, -int(np.argmin(speed)))
    looped = np.r_[speed, speed[0]]
    rises, low = [], looped[0]
    high = low
    for value in looped[1:]:
        if value > high:
            high = value
        elif value < high - 10:
            if high - low > 10:
                rises.append(float(high - low))
            low = high = value
        low = min(low, value)
        high = max(high, low)
    return rises


class TestJudged:
    @pytest.mark.parametrize("sensor", [COIL, SWITCH])
    def test_a_sound_engine_is_even(self, cranked, sensor: ToothSensor) -> None:
        report = judge(*tooth_capture(cranked(81, "I4", "none"), sensor))
        assert report.verdict == "even", report.findings
        assert report.method == "teeth"

    @pytest.mark.parametrize("sensor", [COIL, SWITCH])
    @pytest.mark.parametrize("family", ["a", "b"])
    def test_a_dead_cylinder_is_named(self, cranked, sensor: ToothSensor, family: str) -> None:
        simulated = cranked(82, "I4", "dead", family=family)
        report = judge(*tooth_capture(simulated, sensor))
        assert report.verdict == "uneven", report.findings
        assert report.candidates == (simulated.truth.low,)
        assert report.cranking_rpm == pytest.approx(simulated.truth.rpm, rel=0.02)
        assert "lower-trust" in {f.code for f in report.findings}

    @pytest.mark.parametrize("off_deg", [-90, 0, 90])
    @pytest.mark.parametrize("layout", ["I3", "I4"])
    def test_a_stated_angle_far_off_is_not_made_to_fit(self, cranked, layout, off_deg) -> None:
        """Compressions were looked for near the angle only, and an engine with one low read even.

        Off by a whole firing interval nothing could tell.
        """
        simulated = cranked(8302, layout, "one")
        waveform, setup = tooth_capture(simulated, SWITCH)
        track, order = simulated.truth.track, setup.firing_order
        assert setup.sync
        at_deg = np.rad2deg(np.interp(simulated.truth.sync_s, track.time_s, track.angle_rad))
        after_deg = (at_deg - order.angle_of(setup.sync.cylinder) + 360) % 720 - 360
        angle_deg = float(np.median(after_deg)) + off_deg
        stated = replace(setup, sync=replace(setup.sync, event="cam", angle_deg=angle_deg))
        report = judge(waveform, stated)
        stops = {f.code for f in report.findings if f.severity == "stop"}
        if off_deg:
            assert "sync-mismatch" in stops
        else:
            assert report.candidates == (simulated.truth.low,)

    def test_without_a_sync_the_sets_that_fit_are_listed(self, cranked) -> None:
        simulated = cranked(82, "I4", "dead")
        waveform, setup = tooth_capture(simulated, COIL)
        report = judge(waveform, replace(setup, sync=None))
        assert report.verdict == "uneven"
        assert not report.cylinders_known
        assert set(report.candidates) == {(1,), (2,), (3,), (4,)}

    def test_humps_are_told_in_revolutions_a_minute(self, cranked) -> None:
        simulated = cranked(81, "I4", "none")
        report = judge(*tooth_capture(simulated, COIL))
        assert report.humps
        assert all(0.3 < h.current_a / simulated.truth.rpm < 1.7 for h in report.humps)

    @pytest.mark.parametrize("flaw", ["no-compression", "engine-catches", "too-short"])
    def test_a_crank_that_cannot_be_judged_is_not(self, cranked, flaw: str) -> None:
        report = judge(*tooth_capture(cranked(84, "I4", "none", flaw=flaw), COIL))
        assert report.verdict == "not judged"
        stops = {f.code for f in report.findings if f.severity == "stop"}
        wanted = {
            "no-compression": {"no-compression"},
            "engine-catches": {"engine-caught", "too-short", "unsteady"},
            "too-short": {"too-short"},
        }
        assert stops & wanted[flaw]

    def test_a_channel_without_teeth_is_told(self) -> None:
        flat = Waveform(0.0, 1e4, (Channel("edges", "V", np.zeros(9000, dtype=np.float32)),))
        report = judge(flat, SETUP)
        assert [f.code for f in report.findings if f.severity == "stop"] == ["no-signal"]

    def test_teeth_without_a_gap_ask_for_their_number(self) -> None:
        times_s, _ = tooth_times_s(range(36), 36, swinging, 3.0)
        level = np.zeros(60_000, dtype=np.float32)
        for at_s in times_s:
            level[int(at_s * 20_000) : int(at_s * 20_000) + 40] = 5.0
        waveform = Waveform(0.0, 2e4, (Channel("edges", "V", level),))
        report = judge(waveform, SETUP)
        stops = [f for f in report.findings if f.severity == "stop"]
        assert [f.code for f in stops] == ["teeth-unclear"]
        assert "number of teeth" in stops[0].message

    def test_a_wheel_with_too_few_teeth_says_so(self, cranked) -> None:
        sensor = ToothSensor(teeth=6, gaps=(), kind="switch")
        waveform, setup = tooth_capture(cranked(81, "I4", "none"), sensor)
        report = judge(waveform, replace(setup, wheel=ToothWheel(6, 0)))
        assert "low-rate" in {f.code for f in report.findings if f.severity == "stop"}

    def test_the_same_capture_gives_the_same_digits(self, cranked) -> None:
        waveform, setup = tooth_capture(cranked(82, "I4", "dead"), COIL)
        assert judge(waveform, setup) == judge(waveform, setup)


@pytest.mark.parametrize("before_deg", [0.0, 5e-7, -5e-7])
def test_a_tooth_on_the_beginning_of_the_cycle_is_not_a_cycle_late(before_deg) -> None:
    times_s, _ = tooth_times_s(wheel_of(60, [(58, 2)]), 60, swinging, 5.0)
    time_s = np.arange(0, 5, 1 / 20_000)
    tooth = np.searchsorted(times_s, time_s + 2e-4) - np.searchsorted(times_s, time_s - 2e-4)
    channel = Channel("edges", "V", 5 * np.sign(tooth).astype(np.float32))
    waveform = Waveform(0.0, 20_000.0, (channel,))
    track = clearest_track((times_s, np.empty(0)), ToothWheel())
    from_deg = float(track.angle_deg[40]) + before_deg
    found = replace(turning(waveform, channel, track, SETUP), from_deg=from_deg)
    cycles = tooth_cycles(track, found)
    assert cycles is not None
    assert cycles.late_deg == pytest.approx(0.0, abs=1e-5)
