"""Starter motor and battery as two curves over current: speed and torque.

Currents are counted in units of the mean cranking current. One family covers permanent-magnet
and wound-field starters: the field, over its strength at the mean current, is

    f(I) = g (I + r) / (I + k),   r = remanence x k,   g such that f(1) = 1

With k = 0 it is a permanent magnet, with k of the order of 1 a series motor in part saturation,
with a remanence what a shunt coil or the iron adds to it. Back-EMF proportional to field and
speed, and a total resistance of battery and motor, give

    speed    x(I) = (1 - I / I_stall) / f(I)
    torque   T(I) = I f(I) - I_drag

Speed is counted in units of the no-load speed that the field at the mean current would give.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LEAST_ROOT = 1e-9


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
    current_by_remanence: Floats
    torque_by_stall: Floats
    torque_by_knee: Floats
    torque_by_remanence: Floats


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
    remanence
        Field without current over the field of saturation; without meaning where the knee is 0.
    """

    stall_a: float
    knee_a: float
    drag_a: float
    remanence: float = 0.0

    @property
    def gain(self) -> float:
        """The factor g."""
        return (1 + self.knee_a) / (1 + self.rest)

    @property
    def rest(self) -> float:
        """The current r that would make the field of remanence."""
        return self.remanence * self.knee_a

    def field(self, current_a: float) -> float:
        """Return the field over that at the mean current."""
        return self.gain * (current_a + self.rest) / (current_a + self.knee_a)

    def speed(self, current_a: float) -> float:
        """Return the speed at a current."""
        return (1 - current_a / self.stall_a) / self.field(current_a)

    def slopes(self, speed: Floats) -> Slopes:
        """Return current and torque at a speed.

        Notes
        -----
        The current is the positive root of (1 - I/S) (I + k) = x g (I + r); slopes follow from
        differentiating this.
        """
        stall, knee, rest, gain = self.stall_a, self.knee_a, self.rest, self.gain
        half = (stall * (1 - gain * speed) - knee) / 2
        square = half * half + stall * (knee - gain * rest * speed)
        root = np.maximum(np.sqrt(np.maximum(square, 0.0)), _LEAST_ROOT)
        current = np.maximum(half + root, 0.0)
        total = np.maximum(current + knee, _LEAST_ROOT)
        excited = (current + rest) / total
        back = stall / (2 * root)
        by_speed = -back * gain * (current + rest)
        by_stall = back * current * total / (stall * stall)
        gain_by_knee = (1 - self.remanence) / (1 + rest) ** 2
        gain_by_remanence = -gain * knee / (1 + rest)
        by_knee = back * (
            1 - current / stall - speed * (gain_by_knee * (current + rest) + gain * self.remanence)
        )
        by_remanence = -back * speed * (gain_by_remanence * (current + rest) + gain * knee)
        torque_by_current = gain * (excited + current * (knee - rest) / (total * total))
        field_by_knee = gain_by_knee * excited + gain * (self.remanence - excited) / total
        field_by_remanence = gain_by_remanence * excited + gain * knee / total
        return Slopes(
            current=current,
            torque=current * gain * excited - self.drag_a,
            fall=-torque_by_current * by_speed,
            current_by_speed=by_speed,
            current_by_stall=by_stall,
            current_by_knee=by_knee,
            current_by_remanence=by_remanence,
            torque_by_stall=torque_by_current * by_stall,
            torque_by_knee=torque_by_current * by_knee + current * field_by_knee,
            torque_by_remanence=torque_by_current * by_remanence + current * field_by_remanence,
        )
