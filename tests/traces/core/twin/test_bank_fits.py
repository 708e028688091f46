"""A bank free to differ: found as a whole, kept alike where it is, and as unsure as it is."""

from dataclasses import replace

import numpy as np
import pytest

from traces.core.twin import bank_fits
from traces.core.twin.bank_fits import peaks_freed
from traces.core.twin.errors import fit_covariance
from traces.core.twin.fitting import fit
from traces.core.twin.model import Profile
from traces.core.twin.parameters import (
    BANK,
    ENGINE,
    INERTIA,
    KNEE,
    LEVEL,
    PHASE,
    STALL,
    knowledge,
    with_banks_free,
    with_one_mass,
    with_two_masses,
)
from traces.core.twin.repeating_cycle import solve

SIX_ODD = (0.0, 150.0, 240.0, 390.0, 480.0, 630.0)
SIX_EVEN = tuple(120.0 * i for i in range(6))
FOUR_EVEN = tuple(180.0 * i for i in range(4))


def made(tdc_deg, masses, shares=None):
    """Return the cycle of an engine of known masses, and what is known of it."""
    n = len(tdc_deg)
    profile = Profile(np.ones(240), 0.57, np.array(tdc_deg), 60.0, "petrol")
    known = knowledge(n, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0)
    values = known.centre.copy()
    values[[INERTIA, STALL, KNEE, PHASE, LEVEL]] = np.log(5.0), np.log(4.0), 0.2, 0.6, 0.85
    values[known.shares] = 0.85 if shares is None else shares
    values[known.masses] = masses
    state = solve(profile, values)
    for _ in range(3):
        state = solve(profile, values, state.orbit.start)
    return replace(profile, current=state.current), known


def found_in(profile, known):
    first = known.centre.copy()
    first[known.shares], first[LEVEL], first[KNEE] = 0.8, 0.85, 0.2
    return fit(profile, known, first)


def difference(peaks, weaker):
    return float(1 - peaks[weaker].mean() / peaks[~weaker].mean())


@pytest.mark.parametrize("tdc_deg", [SIX_EVEN, SIX_ODD])
def test_a_bank_of_less_filling_is_found_as_a_whole(tdc_deg):
    weaker = np.arange(6) % 2 == 1
    profile, known = made(tdc_deg, np.where(weaker, -0.10, 0.0))
    found = found_in(profile, known)
    freed = peaks_freed(found, [~weaker, weaker], ~weaker)
    assert freed is not None
    # a tenth of the filling is a tenth of the peak and of the atmosphere that it stands on
    wanted = 0.11
    alone, whole = difference(found.lobes.peaks, weaker), difference(freed[0], weaker)
    assert abs(whole - wanted) < abs(alone - wanted)
    weights = np.where(weaker, -1.0, 1.0) / 3
    half = 1.96 * float(np.sqrt(weights @ freed[1] @ weights))
    assert whole == pytest.approx(wanted, abs=half)


@pytest.mark.parametrize("tdc_deg", [SIX_EVEN, SIX_ODD])
def test_alike_banks_stay_alike(tdc_deg):
    weaker = np.arange(6) % 2 == 1
    profile, known = made(tdc_deg, np.zeros(6))
    freed = peaks_freed(found_in(profile, known), [~weaker, weaker], np.full(6, True))
    assert freed is not None
    assert difference(freed[0], weaker) == pytest.approx(0.0, abs=0.02)


def test_a_weak_cylinder_stays_a_cylinder():
    weaker = np.arange(6) % 2 == 1
    shares = np.array([0.85, 0.85, 0.85, 0.40, 0.85, 0.85])
    profile, known = made(SIX_EVEN, np.zeros(6), shares)
    freed = peaks_freed(found_in(profile, known), [~weaker, weaker], shares > 0.8)
    assert freed is not None
    relative = freed[0] / freed[0][shares > 0.8].mean()
    np.testing.assert_allclose(relative, shares / 0.85, atol=0.05)


def test_uneven_firing_tells_less_of_banks():
    weaker, spreads = np.arange(6) % 2 == 1, []
    for tdc_deg in (SIX_EVEN, SIX_ODD):
        profile, known = made(tdc_deg, np.zeros(6))
        freed = peaks_freed(found_in(profile, known), [~weaker, weaker], np.full(6, True))
        assert freed is not None
        weights = np.where(weaker, -1.0, 1.0) / 3
        spreads.append(np.sqrt(weights @ freed[1] @ weights))
    assert spreads[1] > 1.5 * spreads[0]


@pytest.mark.parametrize(
    ("tdc_deg", "cost", "left"),
    [
        (SIX_EVEN, 20.0, 0.45),
        (SIX_EVEN, 60.0, 0.45),
        (SIX_EVEN, 200.0, 1.0),
        (SIX_ODD, 20.0, 1.0),
        (FOUR_EVEN, 20.0, 1.0),
    ],
)
def test_what_is_wrong_with_both_banks_is_taken_off_where_it_is_known(
    monkeypatch, tdc_deg, cost, left
):
    cylinders = len(tdc_deg)
    weaker, everybody = np.arange(cylinders) % 2 == 1, np.full(cylinders, True)
    profile, known = made(tdc_deg, np.zeros(cylinders))
    found = replace(found_in(profile, known), cost=cost)
    monkeypatch.setattr(bank_fits, "_fits", lambda found, _: [found])
    freed = peaks_freed(found, [~weaker, weaker], everybody)
    assert freed is not None
    alone = fit_covariance(found, float(found.lobes.peaks.mean()), everybody)
    np.testing.assert_allclose(freed[1], left * alone)


def test_nothing_is_told_without_a_measure():
    weaker = np.arange(6) % 2 == 1
    profile, known = made(SIX_EVEN, np.zeros(6))
    nobody = np.zeros(6, dtype=np.bool_)
    assert peaks_freed(found_in(profile, known), [~weaker, weaker], nobody) is None


def test_the_pull_of_what_is_known_is_the_slope_of_its_cost():
    known = with_banks_free(
        knowledge(4, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0), np.arange(4) < 2
    )
    rng = np.random.default_rng(7)
    values = known.centre + 0.3 * known.spread * rng.normal(size=known.centre.size)
    values[known.shares] += values[LEVEL]
    gradient, curvature = known.pull(values)
    for at in (BANK, LEVEL, known.masses.start, known.masses.stop - 1, ENGINE):
        step = np.zeros(values.size)
        step[at] = 1e-5
        slope = (known.cost(values + step) - known.cost(values - step)) / 2e-5
        assert gradient[at] == pytest.approx(slope / 2, rel=1e-4, abs=1e-6)
    assert np.linalg.eigvalsh(curvature).min() > 0


def test_other_flywheels_keep_banks_free():
    in_bank = np.arange(6) % 2 == 1
    known = with_banks_free(knowledge(6, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0), in_bank)
    for other in (with_two_masses(known), with_one_mass(known)):
        assert other.high[BANK] == known.high[BANK] > 0
        np.testing.assert_array_equal(other.apart, np.where(in_bank, -0.5, 0.5))
