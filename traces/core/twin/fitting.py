"""Fit of the twin to a mean engine cycle: damped Gauss-Newton steps inside bounds."""

from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.lobes import Lobes
from traces.core.twin.model import Profile, TwinState, lobes_of
from traces.core.twin.parameters import ENGINE, PUMP, RIPPLES, SPLIT, STROKES, Knowledge, drive_of
from traces.core.twin.repeating_cycle import Closed, closed, moved, solve

Floats = NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]

SIGMA = 0.015
"""What the twin is trusted to hit a mean cycle by, as a share of the mean current."""

_TRIES = 40
_FIRST_DAMPING = 1e-2
_LEAST_DAMPING = 1e-7
_MOST_DAMPING = 1e6
_SHORTEST = 1 / 5  # of the damping after a step that did all that was hoped for
_LARGEST_STEP = 2.0  # spreads of an engine parameter
_LARGEST_CYLINDER_STEP = 0.4
_SETTLING = 3  # steps before a fit is asked whether it comes down far enough
_HOPES, _PACES, _PACE = 6.0, 3.0, 2
"""A fit is given up where so many times what slopes promise, and so many times the larger gain of
its last steps, would still leave it too high. Of some 1100 fits of simulated engines that were let
go on, three came down by half as much again as that."""

_NO_CYCLE = (ArithmeticError, ValueError, np.linalg.LinAlgError)
_DONE = 0.1  # gain of the cost (in units of a squared sigma) that ends the fit


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A fitted twin.

    Parameters
    ----------
    profile, known, state
        What was fitted, what was known, and the twin.
    cost
        Twice the negative log posterior, up to a constant.
    rms
        Of the residual, share of the mean current.
    curvature
        Of half the cost at the end, shape (P, P).
    others
        Fits of the same cycle with other kinds of engine, likely or not.
    """

    profile: Profile
    known: Knowledge
    state: TwinState
    cost: float
    rms: float
    curvature: Floats
    others: tuple["Fit", ...] = ()

    @property
    def has_two_masses(self) -> bool:
        """Whether it is a twin with a two-mass flywheel."""
        return bool(self.known.high[SPLIT] > 0)

    @property
    def has_pump(self) -> bool:
        """Whether it is a twin with a pump's strokes in its load."""
        return bool(self.known.high[STROKES] > 0)

    @property
    def lobes(self) -> Lobes:
        """Each cylinder's compression; `peaks` is what the fit is for."""
        return lobes_of(self.profile, self.state.values)

    @property
    def explained(self) -> float:
        """Share of the mean cycle's variance, 0 to 1."""
        return max(0.0, 1.0 - self.rms**2 / float(self.profile.current.var()))


def fit(
    profile: Profile,
    known: Knowledge,
    first: Floats,
    fixed: Mask | None = None,
    *,
    in_reach: float = np.inf,
) -> Fit:
    """Fit the twin.

    Parameters
    ----------
    profile
        The mean cycle.
    known
        Priors and bounds.
    first
        Parameters to start from, shape (P,).
    fixed
        Parameters that keep their first value, shape (P,).
    in_reach
        Cost above which a fit is of no use: it ends early where it does not promise to come down
        to that.

    Raises
    ------
    ArithmeticError, ValueError, LinAlgError
        Where no cycle repeats at the start, or hangs on it beyond all measure.
    """
    fixed = np.zeros(first.size, dtype=np.bool_) if fixed is None else fixed
    state = solve(profile, first)
    cost = _cost(profile, known, state)
    normal = normal_equations(profile, known, state)
    if normal is None:
        raise FloatingPointError("the cycle hangs on its start beyond all measure")
    downhill, curvature = normal
    damping, growth = _FIRST_DAMPING, 2.0
    costs = [cost]
    for _ in range(_TRIES):
        step = _damped_step(known, state.values, downhill, curvature, damping=damping, fixed=fixed)
        hoped = float(2 * downhill @ step - step @ curvature @ step)
        found = _tried(profile, state, state.values + step)
        new = np.inf if found is None else _cost(profile, known, found)
        kept = _with_slopes(found) if found is not None and new < cost else None
        normal = None if kept is None else normal_equations(profile, known, kept)
        if kept is None or normal is None:
            damping, growth = damping * growth, growth * 2
            if damping > _MOST_DAMPING or 0 < hoped < _DONE / 4:
                break
            continue
        gained = cost - new
        state, cost = kept, new
        costs.append(cost)
        downhill, curvature = normal
        held = min(gained / max(hoped, 1e-12), 1.0)
        damping = max(damping * max(_SHORTEST, 1 - (2 * held - 1) ** 3), _LEAST_DAMPING)
        growth = 2.0
        if gained < _DONE and damping < _FIRST_DAMPING:
            break
        if len(costs) > _SETTLING and cost > in_reach:
            pace = max(before - after for before, after in pairwise(costs[-1 - _PACE :]))
            promised = _promised(known, state.values, downhill, curvature, fixed)
            if cost - max(_HOPES * promised, _PACES * pace) > in_reach:
                break
    residual = profile.current - state.current
    rms = float(np.sqrt(residual @ residual / residual.size))
    return Fit(profile, known, state, cost, rms, curvature)


def _cost(profile: Profile, known: Knowledge, state: TwinState | Closed) -> float:
    residual = profile.current - state.current
    cost = float(residual @ residual) / SIGMA**2 + known.cost(state.values)
    return cost if np.isfinite(cost) else np.inf


def normal_equations(
    profile: Profile, known: Knowledge, state: TwinState
) -> tuple[Floats, Floats] | None:
    """Return downhill direction and curvature of half the cost; None where they are no figures."""
    residual = profile.current - state.current
    pull, curvature = known.pull(state.values)
    with np.errstate(over="ignore", invalid="ignore"):
        # slopes grow without bound where a spring swings up from cycle to cycle
        downhill = state.jacobian.T @ residual / SIGMA**2 - pull
        curvature = curvature + state.jacobian.T @ state.jacobian / SIGMA**2
    if not (np.isfinite(downhill).all() and np.isfinite(curvature).all()):
        return None
    return downhill, curvature


def _promised(
    known: Knowledge, values: Floats, downhill: Floats, curvature: Floats, fixed: Mask
) -> float:
    """Return by how much slopes say that the cost would fall, were they the same all the way."""
    inner = np.flatnonzero((values > known.low) & (values < known.high) & ~fixed)
    slopes = downhill[inner]
    return float(slopes @ np.linalg.solve(curvature[np.ix_(inner, inner)], slopes))


def _damped_step(
    known: Knowledge,
    values: Floats,
    downhill: Floats,
    curvature: Floats,
    *,
    damping: float,
    fixed: Mask,
) -> Floats:
    """Return a step that stays within bounds, the others making the best of those at one."""
    lower, upper = known.low - values, known.high - values
    free = ~(((lower >= 0) & (downhill < 0)) | ((upper <= 0) & (downhill > 0)) | fixed)
    damped = curvature + damping * np.diag(np.diag(curvature))
    step = np.zeros_like(values)
    for _ in range(4):
        inner = np.flatnonzero(free)
        pulled = downhill - damped @ np.where(free, 0.0, step)
        step[inner] = np.linalg.solve(damped[np.ix_(inner, inner)], pulled[inner])
        beyond = free & ((step < lower) | (step > upper))
        if not beyond.any():
            break
        step[beyond] = np.clip(step, lower, upper)[beyond]
        free &= ~beyond
    step = np.clip(step, lower, upper)
    reach = np.full(values.size, _LARGEST_CYLINDER_STEP)
    reach[:ENGINE] = _LARGEST_STEP * known.spread[:ENGINE]
    reach[RIPPLES] = reach[PUMP] = np.inf
    step /= max(1.0, float(np.abs(step / reach).max()))
    return np.asarray(np.clip(values + step, known.low, known.high) - values)


def _tried(profile: Profile, state: TwinState, values: Floats) -> Closed | None:
    """Return the twin at other parameters, its start moved along; None where it fails."""
    step = state.closing + state.start_slopes @ (values - state.values)
    if not (np.isfinite(values).all() and np.isfinite(step).all()):
        return None
    start = moved(state.orbit, step, drive_of(values).share)
    pulls = state.pulls
    if pulls.size:
        pulls = pulls + state.pulls_slopes @ (values - state.values)
    try:
        return closed(profile, values, start, pulls)
    except _NO_CYCLE:
        return None


def _with_slopes(found: Closed) -> TwinState | None:
    try:
        return found.with_slopes()
    except _NO_CYCLE:
        return None
