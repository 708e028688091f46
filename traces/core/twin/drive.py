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

from traces.core.twin.motor import Motor

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
    twice = 2 * step_rad
    half_step = step_rad / 2
    knee, rest, gain, drag = motor.knee_a, motor.rest, motor.gain, motor.drag_a
    half_stall = motor.stall_a / 2
    base, slope = half_stall - knee / 2, half_stall * gain
    product, less = motor.stall_a * knee, motor.stall_a * gain * rest
    bent = gain * (knee - rest)
    a, b = start
    together = a == b
    starters, cranks, modes = [a], [b], []
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
                a = max(a, _LEAST_ENERGY)
                b = a
        if mode == FREE:
            ratio = x / sqrt(b)
            b -= twice * resisting / engine_inertia
            a += twice * ratio * torque / (starter_inertia + half_step * ratio * fall / x)
            a = max(a, _LEAST_ENERGY)
            together = b < a
            if together:
                mode = CAUGHT
                a = b = max(share * a + (1 - share) * b, _LEAST_ENERGY)
        starters.append(a)
        cranks.append(b)
        modes.append(mode)
    return Orbit(np.array(starters), np.array(cranks), np.array(modes, dtype=np.int8))


_FORCED = ("load", "inertia", "share", "stall", "knee", "drag", "remanence")


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
        joint = _engaged_steps(orbit, load, step_rad, drive)
        starter, crank, end_gap = _free_steps(orbit, load, step_rad, drive)
        share = drive.share
        engaged, caught = orbit.mode == ENGAGED, orbit.mode == CAUGHT

        def forcing(name: str) -> Floats:
            out = np.stack([starter[name], crank[name]], axis=1)
            mixed = share * starter[name] + (1 - share) * crank[name]
            if name == "share":
                mixed = mixed + end_gap
            out[caught] = mixed[caught, None]
            out[engaged] = joint[name][engaged, None]
            return out

        passing = np.zeros((load.size, 2, 2))
        passing[:, 0, 0], passing[:, 0, 1] = starter["a"], starter["b"]
        passing[:, 1, 1] = 1.0
        mixed = share * passing[:, 0, :] + (1 - share) * passing[:, 1, :]
        passing[caught] = mixed[caught, None, :]
        # both entries carry the joint speed: each takes half of what either changes
        passing[engaged] = (joint["a"][engaged] / 2)[:, None, None]
        return cls(passing, *(forcing(name) for name in _FORCED))

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
    return answers[:, :, 2:] + answers[:, :, :2] @ starts[:, :-1], starts[:, -1]


def _engaged_steps(orbit: Orbit, load: Floats, h: float, drive: TwinDrive) -> dict[str, Floats]:
    """Derivatives of one engaged step by the joint energy and by each parameter."""
    a = orbit.starter_sq[:-1]
    x = np.sqrt(a)
    m = drive.motor.slopes(x)
    mass = drive.inertia + h * m.fall / (2 * x)
    change = 2 * h * (m.torque - load) / mass
    implicit = change / mass * h / (2 * x)
    return {
        "a": 1 - h * m.fall / (x * mass) + implicit * m.fall / (2 * a),
        "load": -2 * h / mass,
        "inertia": -change / mass,
        "share": np.zeros(a.size),
        "stall": 2 * h * m.torque_by_stall / mass - implicit * m.fall / drive.motor.stall_a,
        "knee": 2 * h * m.torque_by_knee / mass,
        "remanence": 2 * h * m.torque_by_remanence / mass,
        "drag": -2 * h / mass,
    }


def _free_steps(
    orbit: Orbit, load: Floats, h: float, drive: TwinDrive
) -> tuple[dict[str, Floats], dict[str, Floats], Floats]:
    """Derivatives of one free step of starter and crank, and how far apart they would end."""
    a, b = orbit.starter_sq[:-1], orbit.crank_sq[:-1]
    x, y = np.sqrt(a), np.sqrt(b)
    m = drive.motor.slopes(x)
    engine = (1 - drive.share) * drive.inertia
    ratio = x / y
    mass = drive.share * drive.inertia + h * m.fall / (2 * y)
    climb = 2 * h * ratio * m.torque / mass
    push = 2 * h * ratio / mass
    implicit = climb / mass * h / (2 * y)
    none = np.zeros(a.size)
    starter = {
        "a": 1 + push * (m.torque / (2 * a) - m.fall / (2 * x)),
        "b": -climb / (2 * b) + implicit * m.fall / (2 * b),
        "load": none,
        "inertia": -climb / mass * drive.share,
        "share": -climb / mass * drive.inertia,
        "stall": push * m.torque_by_stall - implicit * m.fall / drive.motor.stall_a,
        "knee": push * m.torque_by_knee,
        "remanence": push * m.torque_by_remanence,
        "drag": -push,
    }
    crank = {
        "load": np.full(a.size, -2 * h / engine),
        "inertia": 2 * h * load / (engine * drive.inertia),
        "share": -2 * h * load * drive.inertia / (engine * engine),
        "stall": none,
        "knee": none,
        "remanence": none,
        "drag": none,
    }
    return starter, crank, (a + climb) - (b - 2 * h * load / engine)
