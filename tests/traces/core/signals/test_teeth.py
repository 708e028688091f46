"""Crank-sensor teeth: edges, the wheel, speed by angle, and what is judged from it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engines.core.firing import FiringOrder
from traces.core.readers import read
from traces.core.setup import AnalysisSetup, ToothWheel
from traces.core.signals.edges import edge_times_s
from traces.core.signals.judging import judge
from traces.core.signals.slowness import turning
from traces.core.signals.speed_profile import (
    SpeedProfile,
    shown,
    slowness_of,
    spacing_error_deg,
    whitening,
)
from traces.core.signals.teeth_method import tooth_cycles
from traces.core.signals.wheel import WheelError, clearest_track, track_of
from traces.core.simulator.other_signals import tooth_capture
from traces.core.simulator.tooth_sensor import ToothSensor
from traces.core.slider_crank import SliderCrank
from traces.core.twin.drive import Drive, march
from traces.core.twin.model import STEPS
from traces.core.twin.motor import Motor
from traces.core.waveform import Channel, Waveform

SETUP = AnalysisSetup(FiringOrder.parse("1-2-3"), "edges", 1000.0, signal="crank-teeth")
COIL = ToothSensor(kind="coil")
SWITCH = ToothSensor(teeth=36, gaps=(1,), kind="switch", spacing_deg=0.06)


def tooth_times_s(places, teeth, angle_deg_of, until_s):
    """Return when teeth pass a crank whose angle over time is a rising function."""
    fine_s = np.linspace(0, until_s, 200_001)
    turned = angle_deg_of(fine_s)
    turns = np.arange(0, turned[-1] // 360 + 1)
    angles = (turns[:, None] * 360 + np.array(places) * 360 / teeth).ravel()
    angles = angles[(angles >= turned[0]) & (angles < turned[-1])]
    return np.interp(angles, turned, fine_s), angles


def swinging(time_s):
    """Return the angle of a crank at 240 rpm whose speed swings by a third, 8 times a second."""
    return 1440 * time_s + 1440 / 3 / (16 * np.pi) * np.sin(16 * np.pi * time_s)


def wheel_of(teeth, gaps):
    """Return the places of a wheel whose gaps begin at given places with given sizes."""
    bare = {p for first, size in gaps for p in range(first, first + size)}
    return [p for p in range(teeth) if p not in bare]


class TestWheel:
    @pytest.mark.parametrize(
        ("teeth", "gaps"),
        [
            (60, [(58, 2)]),
            (36, [(35, 1)]),
            (36, [(10, 2), (34, 2)]),
            (24, [(23, 1)]),
            (120, [(118, 2)]),
        ],
    )
    def test_teeth_and_gaps_are_found_and_the_angle_is_the_cranks(self, teeth, gaps) -> None:
        times_s, angles = tooth_times_s(wheel_of(teeth, gaps), teeth, swinging, 2.0)
        track = track_of(times_s, ToothWheel())
        assert (track.teeth, track.missing) == (teeth, sum(size for _, size in gaps))
        inside = np.isin(times_s, track.times_s)
        turned = angles[inside] - angles[inside][0]
        assert track.angle_deg == pytest.approx(turned, abs=1e-9)

    def test_a_wheel_without_a_gap_needs_its_teeth_told(self) -> None:
        times_s, _ = tooth_times_s(range(36), 36, swinging, 2.0)
        with pytest.raises(WheelError, match="number of teeth must be entered"):
            track_of(times_s, ToothWheel())
        assert track_of(times_s, ToothWheel(teeth=36, missing=0)).teeth == 36

    def test_a_wheel_that_is_told_wrongly_is_refused(self) -> None:
        times_s, _ = tooth_times_s(wheel_of(60, [(58, 2)]), 60, swinging, 2.0)
        with pytest.raises(WheelError, match="do not come back after 36"):
            track_of(times_s, ToothWheel(teeth=36))

    def test_random_edges_make_no_wheel(self) -> None:
        rng = np.random.default_rng(1)
        times_s = np.cumsum(rng.exponential(0.005, 400))
        with pytest.raises(WheelError):
            track_of(times_s, ToothWheel())

    def test_too_few_edges_make_no_wheel(self) -> None:
        with pytest.raises(WheelError, match="fewer than eight"):
            track_of(np.arange(5) / 100, ToothWheel())


class TestEdges:
    @pytest.mark.parametrize("rate_hz", [20_000.0, 100_000.0])
    def test_a_coils_zero_is_found_between_samples(self, rate_hz: float) -> None:
        time_s = np.arange(0, 1, 1 / rate_hz)
        # 100 teeth a second: rising zeros at whole hundredths
        volts = (0.5 + time_s) * np.sin(2 * np.pi * 100 * time_s)
        waveform = Waveform(0.0, rate_hz, (Channel("C", "V", volts.astype(np.float32)),))
        rising, _ = edge_times_s(waveform, waveform.channel("C"))
        at = np.round(rising * 100) / 100
        # a swing that grows moves the middle between its ends by a thousandth of a tooth
        assert rising == pytest.approx(at, abs=1e-5)
        assert rising.size >= 95

    def test_noise_at_rest_has_no_edges(self) -> None:
        rng = np.random.default_rng(5)
        time_s = np.arange(0, 2, 1e-4)
        volts = np.where(time_s > 1.0, np.sin(2 * np.pi * 80 * time_s), 0.0)
        volts += rng.normal(0, 0.02, volts.size)
        waveform = Waveform(0.0, 1e4, (Channel("C", "V", volts.astype(np.float32)),))
        rising, falling = edge_times_s(waveform, waveform.channel("C"))
        # the last noise before the first tooth may count as one
        assert np.sort(rising)[1] > 0.98
        assert np.sort(falling)[1] > 0.98

    def test_a_flat_line_has_none(self) -> None:
        waveform = Waveform(0.0, 1e4, (Channel("C", "V", np.zeros(1000, dtype=np.float32)),))
        assert [e.size for e in edge_times_s(waveform, waveform.channel("C"))] == [0, 0]

    @pytest.mark.parametrize("sensor", [COIL, SWITCH])
    def test_simulated_sensors_give_the_wheel_and_the_speed(self, cranked, sensor) -> None:
        simulated = cranked(81, "I4", "none")
        waveform, _ = tooth_capture(simulated, sensor)
        track = clearest_track(edge_times_s(waveform, waveform.channel("crank")), ToothWheel())
        assert (track.teeth, track.missing) == (sensor.teeth, sum(sensor.gaps))
        middle_s = (track.times_s[1:] + track.times_s[:-1]) / 2
        true = np.interp(
            middle_s, simulated.truth.track.time_s, np.rad2deg(simulated.truth.track.engine_rad_s)
        )
        inner = slice(20, -20)
        off = track.speeds_deg_s[inner] / true[inner] - 1
        assert np.std(off) < 0.03


class TestEnergy:
    """Crank speed against work done on gas, where nothing else takes energy out."""

    def test_what_the_speed_loses_is_the_work_of_compression(self) -> None:
        """Free flywheel against a polytropic cylinder, by SciPy's ODE solver.

        Energy: J (w1^2 - w0^2) / 2 = -(W of gas over atmosphere), W = (p1 V1 - p0 V0) / (1 - n)
        for p V^n constant (handbook formula of polytropic work), slider-crank volume (Heywood,
        ch. 2, from memory).
        """
        crank = SliderCrank(bore_m=0.085, stroke_m=0.088, rod_m=0.140, compression_ratio=10.5)
        inertia, exponent, atmosphere = 0.3, 1.3, 1e5
        closed = float(crank.volume_m3(-130.0))

        def pressure(angle_deg):
            return atmosphere * (closed / crank.volume_m3(angle_deg)) ** exponent

        def slope(_, state):
            angle_deg = np.rad2deg(state[0])
            torque = (pressure(angle_deg) - atmosphere) * crank.dvolume_m3_per_rad(angle_deg)
            return [state[1], float(torque) / inertia]

        start = np.deg2rad(-130.0)
        solved = solve_ivp(
            slope, (0, 0.2), [start, 30.0], rtol=1e-9, atol=1e-9, dense_output=True, max_step=1e-3
        )

        def turned(time_s):
            assert solved.sol is not None
            return np.rad2deg(solved.sol(np.clip(time_s, 0, 0.2))[0]) + 490.0

        times_s, angles = tooth_times_s(range(120), 120, turned, 0.12)
        speed = np.deg2rad(np.diff(angles)) / np.diff(times_s)
        middle = (angles[1:] + angles[:-1]) / 2 - 490.0
        inside = (middle > -100) & (middle < -3)
        lost = inertia / 2 * (30.0**2 - speed[inside] ** 2)
        volume = crank.volume_m3(middle[inside])
        gas = (pressure(middle[inside]) * volume - atmosphere * closed) / (1 - exponent)
        against_atmosphere = atmosphere * (volume - closed)
        work_on_gas = -(gas - against_atmosphere)
        assert lost == pytest.approx(work_on_gas, rel=0.01, abs=0.3)
        # half a litre at 10.5 : 1 takes about 110 J (arithmetic from the same formula)
        assert 90 < lost.max() < 130

    @pytest.mark.parametrize("teeth", [36, 60])
    def test_the_twins_tooth_times_agree_with_an_ode_solver(self, teeth: int) -> None:
        motor = Motor(4.0, 0.3, 0.1)
        drive = Drive(inertia=6.0, share=0.4, motor=motor)
        angles = (np.arange(STEPS) + 0.5) * 4 * np.pi / STEPS
        load = 0.8 + 0.5 * np.sin(2 * angles)

        def slope(_, state):
            speed = np.sqrt(state[0])
            push = motor.slopes(np.array([speed])).torque[0]
            return [2 * (push - (0.8 + 0.5 * np.sin(2 * state[1]))) / 6.0, 1.0, 1 / speed]

        energy = motor.speed(1.0) ** 2
        for _ in range(12):  # until the cycle repeats
            ends = solve_ivp(
                slope, (0, 4 * np.pi), [energy, 0.0, 0.0], rtol=1e-9, dense_output=True
            )
            energy = float(ends.y[0, -1])
        places = np.linspace(0, 4 * np.pi, 2 * teeth + 1)
        assert ends.sol is not None
        durations = np.diff(ends.sol(places)[2])
        widths = np.full(2 * teeth, 360.0 / teeth)
        orbit = march(load, 4 * np.pi / STEPS, drive, (energy, energy))
        assert (orbit.mode == 0).all()
        profile = _profile(widths)
        found = profile.observe(orbit, np.zeros((STEPS + 1, 2, 0)), np.empty(0))[0]
        wanted = shown(durations, widths) - 1
        assert np.linalg.solve(profile.whiten, found) == pytest.approx(wanted, abs=0.02)
        assert np.ptp(wanted) > 0.3


def _profile(widths_deg, spacing_deg=0.05) -> SpeedProfile:
    return SpeedProfile(
        current=np.zeros(widths_deg.size),
        cycle_s=0.6,
        tdc_deg=np.array([0.0, 180.0, 360.0, 540.0]),
        cut_off_hz=60.0,
        fuel="petrol",
        widths_deg=widths_deg,
        whiten=whitening(widths_deg, spacing_deg),
    )


class TestSpeedProfile:
    widths = np.tile(np.r_[np.full(57, 6.0), 18.0], 2)

    def test_even_speed_shows_as_one_whatever_the_teeth(self) -> None:
        assert shown(self.widths / 1440, self.widths) == pytest.approx(1.0)

    def test_slowness_comes_back(self) -> None:
        slow = 1 + 0.2 * np.sin(np.arange(116) / 116 * 8 * np.pi)
        durations = slow * self.widths
        slow = slow * 720 / durations.sum()
        assert slowness_of(shown(durations, self.widths), self.widths) == pytest.approx(slow)

    def test_spacing_errors_are_measured_in_degrees(self) -> None:
        rng = np.random.default_rng(2)
        errors = rng.normal(0, 0.05, 58)
        widths = self.widths + np.tile(np.roll(errors, -1) - errors, 2)
        speed = 1 + 0.2 * np.sin(np.cumsum(self.widths) / 720 * 8 * np.pi)
        found = spacing_error_deg(widths / self.widths / speed, self.widths)
        assert found == pytest.approx(0.05, rel=0.4)

    def test_whitened_spacing_errors_are_no_larger_than_the_fit_expects(self) -> None:
        rng = np.random.default_rng(4)
        whiten = whitening(self.widths, 0.05)
        spreads = []
        for _ in range(200):
            errors = rng.normal(0, 0.05, 58)
            durations = self.widths + np.tile(np.roll(errors, -1) - errors, 2)
            spreads.append(whiten @ (shown(durations, self.widths) - 1))
        assert 0.004 < np.std(spreads) < 0.011

    def test_slopes_agree_with_differences(self) -> None:
        motor = Motor(4.0, 0.3, 0.1)
        drive = Drive(inertia=6.0, share=0.4, motor=motor)
        load = 0.8 + 0.5 * np.sin(np.arange(STEPS) / STEPS * 8 * np.pi)
        energy = motor.speed(1.0) ** 2
        orbit = march(load, 4 * np.pi / STEPS, drive, (energy, energy))
        profile = _profile(self.widths)
        rng = np.random.default_rng(6)
        response = rng.normal(0, 0.1, (STEPS + 1, 2, 3))
        here, slopes = profile.observe(orbit, response, np.empty(0))
        for i in range(3):
            moved = replace(orbit, crank_sq=orbit.crank_sq + 1e-6 * response[:, 1, i])
            there, _ = profile.observe(moved, response, np.empty(0))
            assert (there - here) / 1e-6 == pytest.approx(slopes[:, i], abs=1e-4)


class TestMeasured:
    """Edge times of a three-cylinder engine; what they must show: the README beside them."""

    def test_with_plugs_in_speed_and_wheel_are_right(self, real) -> None:
        report = judge(read(real / "i3-crank-teeth-plugs-in.txt").waveform, SETUP)
        assert report.cranking_rpm == pytest.approx(254, abs=3)
        # two gaps of two teeth each in a turn of 36, by the file's own intervals
        assert report.extra["wheel"] == {"teeth": 36, "missing": 4}

    def test_two_large_accelerations_and_a_weak_one_come_every_720_degrees(self, real) -> None:
        waveform = read(real / "i3-crank-teeth-plugs-in.txt").waveform
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
        swings = _accelerations(judge(waveform, SETUP).extra["speed_by_angle"])
        assert len(swings) == 3
        weak, *large = sorted(swings)
        assert weak < 80
        assert min(large) > 250

    def test_with_plugs_out_there_is_no_compression(self, real) -> None:
        report = judge(read(real / "i3-crank-teeth-plugs-out.txt").waveform, SETUP)
        assert report.cranking_rpm == pytest.approx(213, abs=2)
        assert report.verdict == "not judged"
        assert [f.code for f in report.findings if f.severity == "stop"] == ["no-compression"]
        assert (report.estimates, report.candidates) == ((), ())


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
        elif value < high - 12:
            if high - low > 12:
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
    found = turning(waveform, channel, track, SETUP)
    found.from_deg = float(track.angle_deg[40]) + before_deg
    cycles = tooth_cycles(track, found)
    assert cycles is not None
    assert cycles.late_deg == pytest.approx(0.0, abs=1e-5)
