"""Starter motor and battery as two curves over current: speed and torque.

One family covers permanent-magnet and wound-field starters. The field is proportional to
f(I) = I / (I + k): with k = 0 a permanent magnet, with k of the order of the cranking current a
series motor in part saturation. Back-EMF proportional to field and speed, and a total resistance
of battery and motor, give

    speed    x(I) = (1 - I / I_stall) / f(I)
    torque   T(I) = I f(I) - I_drag            (in ampere of the permanent-magnet motor)

Speed is counted in units of the no-load speed that a constant full field would give.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


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
        Torque the motor needs for itself.
    """

    stall_a: float
    knee_a: float
    drag_a: float

    def current_a(self, speed: Floats) -> Floats:
        """Return the current at a speed: the positive root of x I = (1 - I/S)(I + k)."""
        half = self._half(speed)
        return np.asarray(half + np.sqrt(half * half + self.stall_a * self.knee_a))

    def _half(self, speed: Floats) -> Floats:
        return (self.stall_a * (1 - speed) - self.knee_a) / 2

    def torque_and_fall(self, speed: float) -> tuple[float, float]:
        """Return torque and -dT/dspeed at one speed, in floats for the march."""
        stall, knee = self.stall_a, self.knee_a
        half = (stall * (1 - speed) - knee) / 2
        root = math.sqrt(half * half + stall * knee)
        current = half + root
        if current <= 0:
            return current - self.drag_a, stall
        slope = stall / 2 * current / root if root > 0 else stall
        total = current + knee
        return (
            current * current / total - self.drag_a,
            slope * current * (current + 2 * knee) / (total * total),
        )

    def derivatives(self, speed: Floats) -> dict[str, Floats]:
        """Return current, torque, fall and their slopes by stall and knee at fixed speed."""
        stall, knee = self.stall_a, self.knee_a
        half = self._half(speed)
        root = np.maximum(np.sqrt(half * half + stall * knee), 1e-9)
        current = np.maximum(half + root, 1e-6)
        total = current + knee
        torque_by_current = current * (current + 2 * knee) / (total * total)
        i_speed = -stall / 2 * (1 + half / root)
        i_stall = (1 - speed) / 2 * (1 + half / root) + knee / (2 * root)
        i_knee = -0.5 * (1 + half / root) + stall / (2 * root)
        return {
            "current": current,
            "torque": current * current / total - self.drag_a,
            "fall": -torque_by_current * i_speed,
            "i_speed": i_speed,
            "i_stall": i_stall,
            "i_knee": i_knee,
            "t_stall": torque_by_current * i_stall,
            "t_knee": torque_by_current * i_knee - current * current / (total * total),
        }
