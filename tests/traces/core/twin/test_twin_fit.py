"""The fit: parameters found again, the same digits twice, bounds kept."""

from dataclasses import replace

import numpy as np
import pytest

from traces.core.twin.fitting import fit
from traces.core.twin.model import Profile
from traces.core.twin.parameters import ENGINE, INERTIA, KNEE, LEVEL, PHASE, STALL, knowledge
from traces.core.twin.repeating_cycle import closed, solve


def made(shares, *, n=4, knee=0.0, phase=0.6, cycle_s=0.5):
    profile = Profile(np.ones(240), cycle_s, np.arange(n) * 720.0 / n, 60.0, "petrol")
    known = knowledge(n, inrush=3.6, phase_deg=8.0, phase_spread_deg=15.0)
    values = known.centre.copy()
    values[[INERTIA, STALL, KNEE, PHASE, LEVEL]] = np.log(5.0), np.log(4.0), knee, phase, 0.85
    values[ENGINE : ENGINE + n] = shares
    state = solve(profile, values)
    for _ in range(3):
        state = solve(profile, values, state.orbit.start)
    # a unit of the twin is the mean current
    return replace(profile, current=state.current), known, values


def begun(known):
    first = known.centre.copy()
    first[known.shares], first[LEVEL], first[KNEE] = 0.8, 0.85, 0.2
    return first


@pytest.mark.parametrize(
    ("shares", "knee"),
    [
        ((0.85, 0.4, 0.86, 0.84), 0.0),
        ((0.85, 0.0, 0.86, 0.84), 0.0),
        ((0.85, 0.62, 0.55, 0.86), 0.6),
        ((0.85, 0.86, 0.84, 0.85), 0.6),
    ],
)
def test_shares_are_found_again(shares, knee):
    profile, known, _ = made(shares, knee=knee)
    found = fit(profile, known, begun(known))
    relative = found.lobes.peaks / found.lobes.peaks[np.array(shares) > 0.8].mean()
    wanted = np.array(shares) / np.mean([s for s in shares if s > 0.8])
    assert found.rms < 0.01
    np.testing.assert_allclose(relative, wanted, atol=0.04)


def test_twelve_cylinders_with_one_weak():
    shares = np.full(12, 0.85)
    shares[7] = 0.45
    profile, known, _ = made(shares, n=12)
    found = fit(profile, known, begun(known))
    relative = found.lobes.peaks / np.median(found.lobes.peaks)
    assert np.argmin(relative) == 7
    assert relative[7] == pytest.approx(0.45 / 0.85, abs=0.06)


def test_same_digits_twice():
    profile, known, _ = made((0.85, 0.4, 0.86, 0.84))
    one, other = (fit(profile, known, begun(known)) for _ in range(2))
    assert one.state.values.tobytes() == other.state.values.tobytes()
    assert one.cost == other.cost


def test_parameters_stay_within_their_bounds():
    profile, known, _ = made((0.85, 0.02, 0.86, 0.84))
    found = fit(profile, known, begun(known))
    assert (found.state.values >= known.low).all()
    assert (found.state.values <= known.high).all()


def test_fixed_parameters_stay():
    profile, known, _ = made((0.85, 0.4, 0.86, 0.84))
    fixed = np.zeros(known.centre.size, dtype=bool)
    fixed[known.clearances] = True
    found = fit(profile, known, begun(known), fixed)
    assert (found.state.values[known.clearances] == 0).all()


def test_a_fit_in_reach_goes_all_the_way():
    profile, known, _ = made((0.85, 0.4, 0.86, 0.84))
    whole = fit(profile, known, begun(known))
    same = fit(profile, known, begun(known), in_reach=1.05 * whole.cost)
    assert same.state.values.tobytes() == whole.state.values.tobytes()


def test_a_fit_out_of_reach_is_given_up_on_the_way():
    profile, known, _ = made((0.85, 0.4, 0.86, 0.84), n=4)
    # seen a quarter of a cycle late no engine of this order makes the cycle
    late = replace(profile, current=np.roll(profile.current, 60)[::-1].copy())
    whole = fit(late, known, begun(known))
    ended = fit(late, known, begun(known), in_reach=0.1 * whole.cost)
    assert 0.1 * whole.cost < whole.cost < ended.cost


def test_slopes_found_afterwards_are_those_of_the_same_cycle():
    profile, _, values = made((0.85, 0.4, 0.86, 0.84))
    first = closed(profile, values)
    state = first.with_slopes()
    np.testing.assert_allclose(first.current, state.current, rtol=0, atol=1e-12)
    assert state.values is first.values


def test_pull_is_the_slope_of_the_prior():
    known = knowledge(3, inrush=None, phase_deg=8.0, phase_spread_deg=15.0)
    rng = np.random.default_rng(5)
    values = known.centre + 0.3 * known.spread * rng.normal(size=known.centre.size)
    gradient, curvature = known.pull(values)
    for at in range(values.size):
        step = np.zeros(values.size)
        step[at] = 1e-6
        slope = (known.cost(values + step) - known.cost(values - step)) / 4e-6
        assert gradient[at] == pytest.approx(slope, rel=1e-4, abs=1e-5)
    assert np.linalg.eigvalsh(curvature).min() > 0
