"""Crank and starter over one engine cycle that repeats, and its derivatives.

Angle is the independent variable. Crank and starter are two inertias; a one-way clutch keeps the
starter from being faster than the crank. Energies a = x^2 (starter) and b = y^2 (crank) are
marched over equal angle steps: over one step the load does exactly h L of work, so the scheme
keeps the energy balance of each compression. Where the clutch would have to pull, both run free;
where the crank falls back to the starter's speed they join again.
"""

from dataclasses import dataclass
from math import sqrt
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from traces.core.twin.motor import Motor, Slopes

Floats = NDArray[np.float64]
Pair: TypeAlias = tuple[float, float]

ENGAGED, FREE, CAUGHT = 0, 1, 2

_LEAST_SQUARE = 1e-9
_LEAST_ENERGY = 1e-4
"""A cycle in which the crank would stop is no cranking; the floor keeps the march defined."""


@dataclass(frozen=True, slots=True)
class TwinDrive:
    """What turns and what turns it.

    Parameters
    ----------
    inertia
        Of crank and starter together, in torque units over squared speed.
    share
        The starter's part of it.
    """

    inertia: float
    share: float
    motor: Motor


@dataclass(frozen=True, slots=True, eq=False)
class Orbit:
    """One cycle.

    Parameters
    ----------
    starter_sq, crank_sq
        Squared speeds at the nodes, shape (N + 1,).
    mode
        What happened in each step, shape (N,).
    """

    starter_sq: Floats
    crank_sq: Floats
    mode: NDArray[np.int8]

    @property
    def gap(self) -> Floats:
        """How much the end misses the start, shape (2,): 0 where the cycle repeats."""
        return np.array(
            [
                self.starter_sq[-1] - self.starter_sq[0],
                self.crank_sq[-1] - self.crank_sq[0],
            ]
        )

    @property
    def start(self) -> Pair:
        """Where it started."""
        return float(self.starter_sq[0]), float(self.crank_sq[0])


def march(load: Floats, step_rad: float, drive: TwinDrive, start: Pair) -> Orbit:
    """March once through the cycle.

    Plain floats in a loop: steps depend on each other, and arrays of one are slower.

    Parameters
    ----------
    load
        Torque of the load in the middle of each step, shape (N,).
    step_rad
        Crank angle of a step.
    start
        Squared speeds of starter and crank; equal where the clutch holds them together.
    """
    motor = drive.motor
    inertia, share = drive.inertia, drive.share
    starter_inertia, engine_inertia = share * inertia, (1 - share) * inertia
    twice, half_step = 2 * step_rad, step_rad / 2
    knee, rest, gain, drag = motor.knee_a, motor.rest, motor.gain, motor.drag_a
    half_stall = motor.stall_a / 2
    base, slope = half_stall - knee / 2, half_stall * gain
    product, less = motor.stall_a * knee, motor.stall_a * gain * rest
    bent = gain * (knee - rest)
    a, b = start
    together = a == b
    starters, cranks = [a], [b]
    modes: list[int] = []
    add_starter, add_crank, add_mode = starters.append, cranks.append, modes.append
    for resisting in load.tolist():
        x = sqrt(a)
        half = base - slope * x
        square = half * half + product - less * x
        root = sqrt(square) if square > _LEAST_SQUARE else _LEAST_SQUARE
        current = half + root
        if current > _LEAST_SQUARE:
            total = current + knee
            field = gain * (current + rest) / total
            torque = current * field - drag
            lean = field + current * bent / (total * total)
            fall = lean * slope * (current + rest) / root
        else:
            torque, fall = -drag, half_stall + half_stall
        mode = FREE
        if together:
            change = twice * (torque - resisting) / (inertia + half_step * fall / x)
            if torque - fall * change / (4 * x) >= starter_inertia * change / twice:
                mode = ENGAGED
                a += change
                if a < _LEAST_ENERGY:  # noqa: PLR1730 - a call costs more than the whole line
                    a = _LEAST_ENERGY
                b = a
        if mode == FREE:
            ratio = x / sqrt(b)
            b -= twice * resisting / engine_inertia
            a += twice * ratio * torque / (starter_inertia + half_step * ratio * fall / x)
            if a < _LEAST_ENERGY:  # noqa: PLR1730
                a = _LEAST_ENERGY
            together = b < a
            if together:
                mode = CAUGHT
                a = b = max(share * a + (1 - share) * b, _LEAST_ENERGY)
        add_starter(a)
        add_crank(b)
        add_mode(mode)
    return Orbit(np.array(starters), np.array(cranks), np.array(modes, dtype=np.int8))


_LOAD, _INERTIA, _SHARE, _STALL, _KNEE, _DRAG, _REMANENCE = range(7)
"""What drives the march from step to step, in the order of `Linear`'s fields."""
_FORCINGS = 7


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """The march's derivatives: z[i+1] = passing[i] z[i] + forcing, z = (a, b) perturbed.

    Parameters
    ----------
    passing
        Shape (N, 2, 2).
    by_load, by_inertia, by_share, by_stall, by_knee, by_drag, by_remanence
        Forcing of a unit change, each shape (N, 2).
    """

    passing: Floats
    by_load: Floats
    by_inertia: Floats
    by_share: Floats
    by_stall: Floats
    by_knee: Floats
    by_drag: Floats
    by_remanence: Floats

    @classmethod
    def of(cls, orbit: Orbit, load: Floats, step_rad: float, drive: TwinDrive) -> "Linear":
        """Differentiate every step of an orbit."""
        motor = drive.motor.slopes(np.sqrt(orbit.starter_sq[:-1]))
        joint_by, joint = _engaged_steps(orbit, load, step_rad, drive, motor)
        (by_starter, by_crank), starter, crank, end_gap = _free_steps(
            orbit, load, step_rad, drive, motor
        )
        share = drive.share
        engaged, caught = orbit.mode == ENGAGED, orbit.mode == CAUGHT
        forcing = np.stack((starter, crank), axis=2)
        if caught.any():
            mixed = share * starter[:, caught] + (1 - share) * crank[:, caught]
            mixed[_SHARE] += end_gap[caught]
            forcing[:, caught] = mixed[:, :, None]
        forcing[:, engaged] = joint[:, engaged, None]
        passing = np.zeros((load.size, 2, 2))
        passing[:, 0, 0], passing[:, 0, 1] = by_starter, by_crank
        passing[:, 1, 1] = 1.0
        if caught.any():
            mixed = share * passing[caught, 0, :] + (1 - share) * passing[caught, 1, :]
            passing[caught] = mixed[:, None, :]
        # both entries carry the joint speed: each takes half of what either changes
        passing[engaged] = (joint_by[engaged] / 2)[:, None, None]
        return cls(passing, *forcing)

    def answers(self, forcing: Floats) -> Floats:
        """Return dz at all nodes, shape (N + 1, 2, 2 + P).

        The first two columns answer a unit change of the start, the others `forcing`
        (shape (N, 2, P)) from an unchanged start.
        """
        n, _, columns = forcing.shape
        size = 2 * (n + 1)
        right = np.zeros((size, columns + 2), order="F")
        right[0, 0] = right[1, 1] = 1.0
        right[2:, 2:] = forcing.reshape(2 * n, columns)
        # unit lower-triangular band: z[i+1] - passing z[i] = forcing
        band = np.zeros((4, size), order="F")
        band[0] = 1.0
        band[2, 0:-2:2] = -self.passing[:, 0, 0]
        band[1, 1:-2:2] = -self.passing[:, 0, 1]
        band[3, 0:-2:2] = -self.passing[:, 1, 0]
        band[2, 1:-2:2] = -self.passing[:, 1, 1]
        solved, info = lapack.dtbtrs(band, right, uplo="L", diag="U")
        if info != 0:
            raise np.linalg.LinAlgError("the band system is singular")
        return np.asarray(solved).reshape(n + 1, 2, columns + 2)


def repeating(answers: Floats, gap: Floats) -> tuple[Floats, Floats]:
    """Return dz of a cycle that repeats, shape (N + 1, 2, P), and the step that closes it.

    Parameters
    ----------
    answers
        From `Linear.answers`.
    gap
        How much the end misses the start, shape (2,).
    """
    closing = np.eye(2) - answers[-1, :, :2]
    right = np.concatenate((answers[-1, :, 2:], gap[:, None]), axis=1)
    starts = np.asarray(np.linalg.solve(closing, right), dtype=np.float64)
    # by parameter first, as `answers` lies in memory
    by, (a, b) = answers.transpose(2, 0, 1), starts[:, :-1, None, None]
    return (by[2:] + a * by[0] + b * by[1]).transpose(1, 2, 0), starts[:, -1]


def _engaged_steps(
    orbit: Orbit, load: Floats, h: float, drive: TwinDrive, m: Slopes
) -> tuple[Floats, Floats]:
    """Derivatives of one engaged step by the joint energy, and by each forcing."""
    a = orbit.starter_sq[:-1]
    x = np.sqrt(a)
    mass = drive.inertia + h * m.fall / (2 * x)
    push = 2 * h / mass
    change = push * (m.torque - load)
    implicit = change / mass * h / (2 * x)
    by_joint = 1 - h * m.fall / (x * mass) + implicit * m.fall / (2 * a)
    forced = np.zeros((_FORCINGS, a.size))
    forced[_LOAD] = forced[_DRAG] = -push
    forced[_INERTIA] = -change / mass
    forced[_STALL] = push * m.torque_by_stall - implicit * m.fall / drive.motor.stall_a
    forced[_KNEE] = push * m.torque_by_knee
    forced[_REMANENCE] = push * m.torque_by_remanence
    return by_joint, forced


def _free_steps(
    orbit: Orbit, load: Floats, h: float, drive: TwinDrive, m: Slopes
) -> tuple[tuple[Floats, Floats], Floats, Floats, Floats]:
    """Derivatives of one free step and how far starter and crank would end apart.

    Returns
    -------
    tuple
        Those of the starter by its own energy and the crank's; those of the starter and of the
        crank by each forcing; how far apart they would end.
    """
    a, b = orbit.starter_sq[:-1], orbit.crank_sq[:-1]
    x, y = np.sqrt(a), np.sqrt(b)
    engine = (1 - drive.share) * drive.inertia
    ratio = x / y
    mass = drive.share * drive.inertia + h * m.fall / (2 * y)
    push = 2 * h * ratio / mass
    climb = push * m.torque
    heavier = climb / mass
    implicit = heavier * h / (2 * y)
    by_starter = 1 + push * (m.torque / (2 * a) - m.fall / (2 * x))
    by_crank = (implicit * m.fall - climb) / (2 * b)
    starter = np.zeros((_FORCINGS, a.size))
    starter[_INERTIA] = -heavier * drive.share
    starter[_SHARE] = -heavier * drive.inertia
    starter[_STALL] = push * m.torque_by_stall - implicit * m.fall / drive.motor.stall_a
    starter[_KNEE] = push * m.torque_by_knee
    starter[_DRAG] = -push
    starter[_REMANENCE] = push * m.torque_by_remanence
    crank = np.zeros((_FORCINGS, a.size))
    fall = 2 * h * load / engine
    crank[_LOAD] = -2 * h / engine
    crank[_INERTIA] = fall / drive.inertia
    crank[_SHARE] = -fall * drive.inertia / engine
    return (by_starter, by_crank), starter, crank, (a + climb) - (b - fall)
