"""The twin's gas: published figures, orifice flow of real air, and an ODE solver."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tests.traces.properties import PropsSI
from traces.core.twin.lobes import (
    ANGLES,
    CLOSES_ABDC_DEG,
    EXPONENT,
    RATIO_NODES,
    SHARES,
    Floats,
    critical_ratio,
    leaking_pressure,
    lobe_table,
    lobes_at,
    orifice_factor,
    relative_volume,
)

TIGHT = np.zeros(1)


def test_half_litre_petrol_cylinder_reaches_the_published_pressure():
    # 0.5 L, ratio 10.5, closing 50 degrees after bottom: 18.0 bar absolute with n = 1.3
    # (calculated in the facts this project builds on)
    _, pressure = leaking_pressure(TIGHT, np.array([10.5]))
    assert pressure.max() == pytest.approx(18.0, rel=0.03)


def test_diesel_cylinder_reaches_the_published_pressure():
    # ratio 16.5: 32.3 bar with n = 1.3 (the same source)
    _, pressure = leaking_pressure(TIGHT, np.array([16.5]))
    assert pressure.max() == pytest.approx(32.3, rel=0.04)


def test_torque_peaks_where_published():
    # 22 to 24 degrees before top dead centre at ratio 10.5, 121 N m for half a litre at
    # 1 bar (the same source); one atmosphere times the swept volume is 50 N m there
    table = lobe_table("petrol")
    at = float(np.interp(10.5, table.ratios, np.arange(RATIO_NODES)))
    lobe = lobes_at(table, np.array([at]), np.ones(1), np.zeros(1)).torque[0]
    degrees = (int(np.argmax(lobe)) - ANGLES // 2) * 720 / ANGLES
    assert -25 <= degrees <= -21
    assert lobe.max() * 50.0 == pytest.approx(121.0, rel=0.04)


def test_volume_at_the_dead_centres_by_hand():
    top = relative_volume(np.array(0.0), np.array(10.0))[0]
    bottom = relative_volume(np.array(180.0), np.array(10.0))[0]
    assert bottom / top == pytest.approx(10.0)
    assert bottom - top == pytest.approx(1.0)


def test_piston_is_past_half_its_stroke_at_a_quarter_turn():
    # x = r (1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a) with r = 1, l = 3.3 at 90 degrees:
    # 1 + 3.3 - sqrt(9.89) = 1.1552, by hand
    top = relative_volume(np.array(0.0), np.array(10.0))[0]
    assert relative_volume(np.array(90.0), np.array(10.0))[0] - top == pytest.approx(
        1.1552 / 2, abs=1e-4
    )


def test_choked_flow_starts_at_the_tabled_ratio():
    # 0.5283 for g = 1.4: gas-dynamics tables, from memory
    assert critical_ratio() == pytest.approx(0.5283, abs=1e-4)
    # and passes 0.6847 p A / sqrt(R T): the same tables
    assert orifice_factor(np.array([0.2, 0.5]))[1] == pytest.approx(0.6847, abs=1e-3)


@pytest.mark.parametrize("ratio", [0.6, 0.8, 0.95])
def test_subsonic_flow_is_that_of_real_air(ratio):
    upstream_pa, kelvin = 3e5, 350.0
    entropy = PropsSI("S", "P", upstream_pa, "T", kelvin, "Air")
    enthalpy = PropsSI("H", "P", upstream_pa, "T", kelvin, "Air")
    dropped = enthalpy - PropsSI("H", "P", ratio * upstream_pa, "S", entropy, "Air")
    flux = PropsSI("D", "P", ratio * upstream_pa, "S", entropy, "Air") * np.sqrt(2 * dropped)
    ours = upstream_pa / np.sqrt(287.05 * kelvin) * orifice_factor(np.array([ratio]))[0]
    assert ours == pytest.approx(flux, rel=0.015)


@pytest.mark.parametrize("leak", [0.01, 0.05, 0.3])
def test_leaking_cylinder_agrees_with_an_ode_solver(leak):
    """The same physics written down once more and given to SciPy's solver."""
    ratio = 10.0
    closing = float(relative_volume(np.array(-180.0 + CLOSES_ABDC_DEG), np.array(ratio))[0])

    def rate(angle_rad: float, log_mass: Floats) -> Floats:
        volume = relative_volume(np.rad2deg(angle_rad), np.array(ratio))[0] / closing
        mass = np.exp(log_mass)
        p = (mass / volume) ** EXPONENT
        if p >= 1:
            flow = -p * orifice_factor(1 / p) / np.sqrt(p * volume / mass)
        else:
            flow = orifice_factor(p)
        return np.atleast_1d(leak * flow / mass)

    angles, ours = leaking_pressure(np.array([leak]), np.array([ratio]))
    solved = solve_ivp(
        rate,
        (float(np.deg2rad(angles[0])), float(np.deg2rad(angles[-1]))),
        np.zeros(1),
        t_eval=np.deg2rad(angles),
        rtol=1e-8,
        atol=1e-10,
    )
    volume = relative_volume(angles, np.array(ratio))[0] / closing
    theirs = (np.exp(solved.y[0]) / volume) ** EXPONENT
    np.testing.assert_allclose(ours[:, 0], theirs, rtol=3e-3, atol=3e-3)


def test_peaks_are_what_the_shares_say():
    table = lobe_table("petrol")
    shares = np.array([0.1, 0.33, 0.8, 1.0])
    lobes = lobes_at(table, np.full(4, 3.0), shares, np.zeros(4))
    np.testing.assert_allclose(lobes.peaks, shares * table.peaks[3], rtol=1e-12)


def test_leaks_take_more_from_the_expansion():
    table = lobe_table("petrol")
    half = lobes_at(table, np.array([3.0]), np.array([0.5]), np.zeros(1)).torque[0]
    tight = lobes_at(table, np.array([3.0]), np.array([1.0]), np.zeros(1)).torque[0]
    assert -tight.min() == pytest.approx(tight.max(), rel=0.01)
    assert -half.min() < 0.7 * half.max()
    assert half.sum() > 10 * abs(tight.sum())


@pytest.mark.parametrize("which", ["share", "mass", "ratio"])
def test_slopes_of_lobes_are_their_differences(which):
    table = lobe_table("diesel")
    step = 1e-6
    at = {"ratio": 2.4, "share": 0.61, "mass": -0.05}

    def lobes(**moved):
        now = at | moved
        ratio, share, mass = (np.array([now[k]]) for k in ("ratio", "share", "mass"))
        return lobes_at(table, ratio, share, mass)

    up, down = (lobes(**{which: at[which] + s}) for s in (step, -step))
    slope = getattr(lobes(), f"by_{which}")
    np.testing.assert_allclose((up.torque - down.torque) / (2 * step), slope, atol=2e-6)
    of_peaks = getattr(lobes(), f"peaks_by_{which}")
    assert (up.peaks - down.peaks)[0] / (2 * step) == pytest.approx(of_peaks[0], rel=1e-5)


def test_table_reaches_from_nothing_to_tight():
    assert SHARES[0] == 0.0
    assert SHARES[-1] == 1.0
    assert np.abs(lobe_table("petrol").torque[:, 0]).max() < 0.03
