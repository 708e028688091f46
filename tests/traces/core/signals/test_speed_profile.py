"""Speed by angle: energy against work on gas, teeth against an ODE solver, spacing errors."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.traces.core.signals.teeth import tooth_times_s
from traces.core.compression.slider_crank import SliderCrank
from traces.core.signals.speed_profile import (
    SpeedProfile,
    shown,
    slowness_of,
    spacing_error_deg,
    whitening,
)
from traces.core.twin.drive import TwinDrive, march
from traces.core.twin.model import STEPS
from traces.core.twin.motor import Motor


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
        drive = TwinDrive(inertia=6.0, share=0.4, motor=motor)
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
        drive = TwinDrive(inertia=6.0, share=0.4, motor=motor)
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
