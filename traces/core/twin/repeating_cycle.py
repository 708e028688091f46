"""The cycle that repeats at a set of parameters, first without its slopes and then with them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from traces.core.twin.drive import Linear, Orbit, Pair, TwinDrive, march, repeating
from traces.core.twin.model import (
    NO_PULLS,
    STEP_RAD,
    STEPS,
    Floats,
    Profile,
    TwinState,
    load_of,
    time_passed,
)
from traces.core.twin.parameters import (
    DAMPING,
    DRAG,
    INERTIA,
    KNEE,
    NATURAL,
    REMANENCE,
    SHARE,
    SPLIT,
    STALL,
    drive_of,
    logistic,
    second_mass_of,
)
from traces.core.twin.second_mass import PULLS, Reaction, SecondMass, pull_shapes, reaction

_CLOSED = 1e-2
_MOST_ROUNDS = 4
_MOST_ROUNDS_PULLED = 6
_PULLED_ALIKE = 1e-2  # of the mean torque
_NOTHING = np.zeros((STEPS, 2, 0))
_STILL = np.zeros((STEPS + 1, 2, 0))
"""No forcing, and no change of the speeds."""


@dataclass(frozen=True, slots=True, eq=False)
class Closed:
    """A cycle that repeats, or nearly so.

    Parameters
    ----------
    values
        Parameters, shape (P,).
    current
        As the profile would show it, shape (M,).
    with_slopes
        Finds its slopes by parameter: the larger part of the work, and only needed where the
        cycle is kept.
    """

    values: Floats
    current: Floats
    with_slopes: Callable[[], TwinState]


def solve(
    profile: Profile, values: Floats, start: Pair | None = None, pulls: Floats = NO_PULLS
) -> TwinState:
    """Return the cycle of `closed` with its slopes."""
    return closed(profile, values, start, pulls).with_slopes()


def closed(
    profile: Profile, values: Floats, start: Pair | None = None, pulls: Floats = NO_PULLS
) -> Closed:
    """Return the cycle near `start` that repeats, or nearly so.

    `pulls` is what the second mass of a flywheel is thought to do; without meaning where there is
    none.
    """
    load, slopes = load_of(profile, values)
    drive = drive_of(values)
    if start is None:
        energy = drive.motor.speed(1.0) ** 2
        start = (energy, energy)
    second = second_mass_of(values)
    if second is not None:
        pulled = pulls if pulls.size else np.zeros(PULLS)
        return _closed_pulled(profile, values, _Loaded(load, slopes, drive, second), start, pulled)
    for left in range(_MOST_ROUNDS, 0, -1):
        orbit = march(load, STEP_RAD, drive, start)
        linear = Linear.of(orbit, load, STEP_RAD, drive)
        if left == 1 or np.abs(orbit.gap).max() < _CLOSED * orbit.crank_sq[0]:
            break
        closing = repeating(linear.answers(_NOTHING), orbit.gap)[1]
        start = moved(orbit, closing, drive.share)

    def with_slopes() -> TwinState:
        response, closing = repeating(linear.answers(_forcing(linear, slopes, values)), orbit.gap)
        current, jacobian = profile.observe(orbit, response, values)
        return TwinState(values, current, jacobian, orbit, linear, slopes, closing, response[0])

    return Closed(values, profile.observe(orbit, _STILL, values)[0], with_slopes)


@dataclass(frozen=True, slots=True, eq=False)
class _Loaded:
    """The load by step with its slopes, and what it loads."""

    load: Floats
    slopes: Floats
    drive: TwinDrive
    second: SecondMass


def _closed_pulled(
    profile: Profile, values: Floats, loaded: _Loaded, start: Pair, pulls: Floats
) -> Closed:
    """Return the cycle in which crank and second mass agree, by Newton's method on both."""
    drive, second, shapes = loaded.drive, loaded.second, pull_shapes(STEPS)
    apparent = second.apparent(profile.cycle_s)

    def reacting(orbit: Orbit, response: Floats) -> Reaction:
        time, time_by = time_passed(np.sqrt(orbit.crank_sq), response)
        return reaction(time, time_by, STEP_RAD, second.inertia, apparent)

    for left in range(_MOST_ROUNDS_PULLED, 0, -1):
        load = loaded.load + shapes @ pulls
        orbit = march(load, STEP_RAD, drive, start)
        linear = Linear.of(orbit, load, STEP_RAD, drive)
        answers = linear.answers(linear.by_load[:, :, None] * shapes[:, None, :])
        by_pulls, closing = repeating(answers, orbit.gap)
        shift = answers[:, :, :2] @ closing
        found = reacting(orbit, np.concatenate((shift[:, :, None], by_pulls), axis=2))
        agreeing = np.linalg.inv(np.eye(PULLS) - found.pulls_by[:, 1:])
        step = agreeing @ (found.pulls + found.pulls_by[:, 0] - pulls)
        closing = closing + by_pulls[0] @ step
        is_closed = np.abs(orbit.gap).max() < _CLOSED * orbit.crank_sq[0]
        if left == 1 or (is_closed and np.abs(found.pulls - pulls).max() < _PULLED_ALIKE):
            break
        pulls = pulls + step
        start = moved(orbit, closing, drive.share)

    def with_slopes() -> TwinState:
        response = repeating(linear.answers(_forcing(linear, loaded.slopes, values)), orbit.gap)[0]
        direct = reacting(orbit, response)
        wanted = direct.pulls_by
        by_split, by_natural, by_damping = (
            (direct.pulls_by_apparent @ slopes).real
            for slopes in second.apparent_slopes(profile.cycle_s)
        )
        wanted[:, INERTIA] += direct.pulls
        wanted[:, SHARE] -= logistic(float(values[SHARE])) * direct.pulls
        wanted[:, SPLIT] += direct.pulls / second.share + by_split
        wanted[:, NATURAL] += by_natural
        wanted[:, DAMPING] += by_damping
        pulls_slopes = agreeing @ wanted
        response = response + by_pulls @ pulls_slopes
        current, jacobian = profile.observe(orbit, response, values)
        return TwinState(
            values,
            current,
            jacobian,
            orbit,
            linear,
            loaded.slopes,
            closing,
            response[0],
            pulls + step,
            pulls_slopes,
        )

    return Closed(values, profile.observe(orbit, _STILL, values)[0], with_slopes)


def _forcing(linear: Linear, slopes: Floats, values: Floats) -> Floats:
    """Return what a change of each parameter does in each step, shape (STEPS, 2, P)."""
    drive = drive_of(values)
    whole, split = float(np.exp(values[INERTIA])), float(values[SPLIT])
    share = logistic(float(values[SHARE]))
    left = 1 - (1 - share) * split
    forcing = linear.by_load[:, :, None] * slopes[:, None, :]
    forcing[:, :, INERTIA] += linear.by_inertia * drive.inertia
    forcing[:, :, SHARE] += (share * (1 - share)) * (
        linear.by_inertia * (whole * split) + linear.by_share * ((1 - split) / left**2)
    )
    if split > 0:
        forcing[:, :, SPLIT] += (1 - share) * (
            linear.by_share * (share / left**2) - linear.by_inertia * whole
        )
    forcing[:, :, STALL] += linear.by_stall * drive.motor.stall_a
    forcing[:, :, KNEE] += linear.by_knee
    forcing[:, :, DRAG] += linear.by_drag
    forcing[:, :, REMANENCE] += linear.by_remanence
    return forcing


def moved(orbit: Orbit, step: Floats, share: float) -> Pair:
    """Return the start of an orbit after a step; one speed where the clutch holds."""
    a, b = (max(float(v), 1e-3) for v in np.asarray(orbit.start) + step)
    if orbit.mode[-1] != 1 or a >= b:
        a = b = share * a + (1 - share) * b
    return a, b
