"""Starter motor and battery as two curves over current: speed and torque.

One family covers permanent-magnet and wound-field starters. The field is proportional to
f(I) = I / (I + k): with k = 0 a permanent magnet, with k of the order of the cranking current a
series motor in part saturation. Back-EMF proportional to field and speed, and a total resistance
of battery and motor, give

    speed    x(I) = (1 - I / I_stall) / f(I)
    torque   T(I) = I f(I) - I_drag            (in ampere of the permanent-magnet motor)

Speed is counted in units of the no-load speed that a constant full field would give.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LEAST_CURRENT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Current, torque and their slopes at given speeds, each of the speeds' shape.

    `fall` is -dT/dspeed.
    """

    current: Floats
    torque: Floats
    fall: Floats
    current_by_speed: Floats
    current_by_stall: Floats
    current_by_knee: Floats
    torque_by_stall: Floats
    torque_by_knee: Floats


@dataclass(frozen=True, slots=True)
class Motor:
    """The two curves.

    Parameters
    ----------
    stall_a
        Current at which back-EMF is nought.
    knee_a
        Current at which a wound field has half its strength; 0 for a permanent magnet.
    drag_a
        Torque the motor needs for itself, in amps.
    """

    stall_a: float
    knee_a: float
    drag_a: float

    def speed(self, current_a: float) -> float:
        """Return the speed at a current."""
        return (1 - current_a / self.stall_a) * (1 + self.knee_a / current_a)

    def slopes(self, speed: Floats) -> Slopes:
        """Return current and torque at a speed: the positive root of x I = (1 - I/S)(I + k)."""
        stall, knee = self.stall_a, self.knee_a
        half = (stall * (1 - speed) - knee) / 2
        root = np.maximum(np.sqrt(half * half + stall * knee), _LEAST_CURRENT)
        current = np.maximum(half + root, _LEAST_CURRENT)
        total = current + knee
        torque_by_current = current * (current + 2 * knee) / (total * total)
        lean = 1 + half / root
        by_speed = -stall / 2 * lean
        by_stall = (1 - speed) / 2 * lean + knee / (2 * root)
        by_knee = stall / (2 * root) - lean / 2
        return Slopes(
            current=current,
            torque=current * current / total - self.drag_a,
            fall=-torque_by_current * by_speed,
            current_by_speed=by_speed,
            current_by_stall=by_stall,
            current_by_knee=by_knee,
            torque_by_stall=torque_by_current * by_stall,
            torque_by_knee=torque_by_current * by_knee - current * current / (total * total),
        )
