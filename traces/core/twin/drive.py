"""Crank and starter over one engine cycle that repeats, and its derivatives.

Angle is the independent variable. Crank and starter are two inertias; a one-way clutch keeps the
starter from being faster than the crank. Energies a = x^2 (starter) and b = y^2 (crank) are
marched over equal angle steps: over one step the load does exactly h L of work, so the scheme
keeps the energy balance of each compression. Where the clutch carries no torque both run free;
where the crank falls back to the starter's speed they join again.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lapack

from traces.core.twin.motor import Motor

Floats = NDArray[np.float64]

ENGAGED, FREE, CAUGHT = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Orbit:
    """One periodic cycle.

    Parameters
    ----------
    starter_sq, crank_sq
        Squared speeds at the nodes, shape (N + 1,).
    mode
        What happened in each step, shape (N,).
    gap
        Largest relative change of the state over the cycle: 0 when periodic.
    """

    starter_sq: Floats
    crank_sq: Floats
    mode: NDArray[np.int8]
    gap: float


def march(
    load: list[float],
    step_rad: float,
    inertia: float,
    share: float,
    motor: Motor,
    start: tuple[float, float],
) -> tuple[list[float], list[float], list[int]]:
    """March once through the cycle; see the module's text. Plain floats: arrays are slower."""
    h2 = 2 * step_rad
    starter_inertia, engine_inertia = share * inertia, (1 - share) * inertia
    a, b = start
    out_a, out_b, modes = [a], [b], []
    stall, knee, drag = motor.stall_a, motor.knee_a, motor.drag_a
    stall_knee = stall * knee
    floor = 1e-4
    for torque_load in load:
        x = a**0.5
        half = (stall * (1 - x) - knee) / 2
        root = (half * half + stall_knee) ** 0.5
        current = half + root
        if current > 1e-9:
            total = current + knee
            torque = current * current / total - drag
            fall = stall / 2 * current / root * current * (current + 2 * knee) / (total * total)
        else:
            torque, fall = current - drag, stall
        mode = FREE
        if a == b:
            change = h2 * (torque - torque_load) / (inertia + step_rad * fall / (2 * x))
            carried = torque - fall * change / (4 * x) - starter_inertia * change / h2
            if carried >= 0:
                mode = ENGAGED
                a = b = max(a + change, floor)
        if mode == FREE:
            ratio = x / b**0.5
            b1 = max(b - h2 * torque_load / engine_inertia, floor)
            a1 = a + h2 * ratio * torque / (starter_inertia + step_rad * ratio * fall / (2 * x))
            a1 = max(a1, floor)
            if b1 < a1:
                mode = CAUGHT
                a = b = share * a1 + (1 - share) * b1
            else:
                a, b = a1, b1
        out_a.append(a)
        out_b.append(b)
        modes.append(mode)
    return out_a, out_b, modes


def orbit(
    load: Floats,
    step_rad: float,
    inertia: float,
    share: float,
    motor: Motor,
    start: tuple[float, float],
    rounds: int = 6,
    tolerance: float = 1e-5,
) -> tuple[Orbit, "Linear"]:
    """Find the cycle that repeats, by Newton's method on its start."""
    numbers = load.tolist()
    state = start
    for _ in range(rounds):
        a, b, modes = march(numbers, step_rad, inertia, share, motor, state)
        found = Orbit(np.array(a), np.array(b), np.array(modes, dtype=np.int8), 0.0)
        linear = Linear.of(found, load, step_rad, inertia, share, motor)
        miss = np.array([a[-1] - a[0], b[-1] - b[0]])
        gap = float(np.abs(miss).max() / b[0])
        if gap < tolerance:
            break
        together = a[0] == b[0]
        move = np.linalg.solve(np.eye(2) - linear.over_cycle(), miss)
        state = (max(a[0] + move[0], 1e-3), max(b[0] + move[1], 1e-3))
        if modes[-1] != FREE or state[0] >= state[1]:
            joint = share * state[0] + (1 - share) * state[1]
            state = (joint, joint)
        del together
    return Orbit(found.starter_sq, found.crank_sq, found.mode, gap), linear


@dataclass(frozen=True, slots=True, eq=False)
class Linear:
    """The march's derivatives: z[i+1] = P[i] z[i] + forcing, z = (a, b) perturbed.

    Parameters
    ----------
    passing
        P, shape (N, 2, 2).
    by_load, by_inertia, by_share, by_stall, by_knee, by_drag
        Forcing of a unit change, each shape (N, 2).
    """

    passing: Floats
    by_load: Floats
    by_inertia: Floats
    by_share: Floats
    by_stall: Floats
    by_knee: Floats
    by_drag: Floats

    @classmethod
    def of(
        cls, orbit: Orbit, load: Floats, h: float, inertia: float, share: float, motor: Motor
    ) -> "Linear":
        """Differentiate every step of an orbit."""
        a, b = orbit.starter_sq[:-1], orbit.crank_sq[:-1]
        x, y = np.sqrt(a), np.sqrt(b)
        m = motor.derivatives(x)
        torque, fall = m["torque"], m["fall"]
        n = a.size
        # engaged
        d = inertia + h * fall / (2 * x)
        change = 2 * h * (torque - load) / d
        e_state = 1 - 2 * h * fall / (2 * x) / d + change / d * h * fall / (4 * a * x)
        fall_stall, fall_knee = fall / motor.stall_a, np.zeros(n)
        e = {
            "load": -2 * h / d,
            "inertia": -change / d,
            "stall": 2 * h * m["t_stall"] / d - change / d * h * fall_stall / (2 * x),
            "knee": 2 * h * m["t_knee"] / d - change / d * h * fall_knee / (2 * x),
            "drag": -2 * h / d,
        }
        # free
        js, je = share * inertia, (1 - share) * inertia
        r = x / y
        ds = js + h * r * fall / (2 * x)
        climb = 2 * h * r * torque / ds
        a_a = 1 + 2 * h * r * (torque / (2 * a) - fall / (2 * x)) / ds
        a_b = -2 * h * r * torque / (2 * b) / ds + climb / ds * h * fall / (4 * b * y)
        b_load = np.full(n, -2 * h / je)
        b_inertia = 2 * h * load / (je * inertia)
        b_share = -2 * h * load * inertia / (je * je)
        a_inertia = -climb / ds * share
        a_share = -climb / ds * inertia
        a_stall = 2 * h * r * m["t_stall"] / ds - climb / ds * h * r * fall_stall / (2 * x)
        a_knee = 2 * h * r * m["t_knee"] / ds
        a_drag = -2 * h * r / ds
        engaged, caught = orbit.mode == ENGAGED, orbit.mode == CAUGHT
        # where both were one speed before a free step, a and b are perturbed alike
        passing = np.zeros((n, 2, 2))
        passing[:, 0, 0], passing[:, 0, 1] = a_a, a_b
        passing[:, 1, 1] = 1.0
        zero = np.zeros(n)

        def pair(first: Floats, second: Floats, joint: Floats, extra: Floats = zero) -> Floats:
            out = np.stack([first, second], axis=1)
            mixed = share * first + (1 - share) * second + extra
            out[caught] = mixed[caught, None]
            out[engaged] = joint[engaged, None]
            return out

        a1 = a + climb
        b1 = b - 2 * h * load / je
        mix = share * passing[:, 0, :] + (1 - share) * passing[:, 1, :]
        passing[caught] = mix[caught, None, :]
        # engaged: both follow the joint speed; split evenly between the two equal entries
        passing[engaged] = (e_state[engaged] / 2)[:, None, None]
        return cls(
            passing,
            pair(zero, b_load, e["load"]),
            pair(a_inertia, b_inertia, e["inertia"]),
            pair(a_share, b_share, zero, a1 - b1),
            pair(a_stall, zero, e["stall"]),
            pair(a_knee, zero, e["knee"]),
            pair(a_drag, zero, e["drag"]),
        )

    def over_cycle(self) -> Floats:
        """Return how a change of the start arrives at the end, shape (2, 2)."""
        return self._propagate(np.zeros((self.passing.shape[0], 2, 0)), open_start=True)[-1][:, :2]

    def periodic(self, forcing: Floats) -> Floats:
        """Return dz at all nodes, shape (N + 1, 2, P), of a periodic response.

        Parameters
        ----------
        forcing
            Shape (N, 2, P).
        """
        answer = self._propagate(forcing, open_start=True)
        ends = answer[-1]
        start = np.linalg.solve(np.eye(2) - ends[:, :2], ends[:, 2:])
        return np.asarray(answer[:, :, 2:] + answer[:, :, :2] @ start)

    def forced(self, forcing: Floats) -> Floats:
        """Return the response of one cycle that starts undisturbed, and of its start.

        The first two columns are the answer to a unit change of the starting state.
        """
        return self._propagate(forcing, open_start=True)

    def _propagate(self, forcing: Floats, *, open_start: bool) -> Floats:
        n, _, columns = forcing.shape
        right = np.zeros((2 * (n + 1), columns + 2), order="F")
        right[0, 0] = right[1, 1] = 1.0 if open_start else 0.0
        right[2:, 2:] = forcing.reshape(2 * n, columns)
        # unit lower-triangular band: z[i+1] - P z[i] = f
        band = np.zeros((4, 2 * (n + 1)), order="F")
        band[0] = 1.0
        band[2, 0:-2:2] = -self.passing[:, 0, 0]
        band[1, 1:-2:2] = -self.passing[:, 0, 1]
        band[3, 0:-2:2] = -self.passing[:, 1, 0]
        band[2, 1:-2:2] = -self.passing[:, 1, 1]
        solved, info = lapack.dtbtrs(band, right, uplo="L", diag="U")
        if info != 0:
            raise np.linalg.LinAlgError("band solve failed")
        return solved.reshape(n + 1, 2, columns + 2)
