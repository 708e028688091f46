"""The course of one simulated crank: angle, speeds, current, pressures over time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.compression import Array


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One engine's crank on the integrator's time steps.

    Parameters
    ----------
    time_s
        From the recording's start, shape (steps,), uniform; the first step is before the key.
    angle_rad
        Crank angle after the firing top dead centre of the first in the firing order.
    engine_rad_s, starter_rad_s
        Speeds at the crank.
    starter_rad
        Integral of the starter's speed.
    motor_a, cable_a
        Current of the starter motor, and with its solenoid.
    battery_v
        At the posts.
    pressure_pa
        Absolute, shape (steps, cylinders), in firing sequence.
    """

    time_s: Array
    angle_rad: Array
    engine_rad_s: Array
    starter_rad_s: Array
    starter_rad: Array
    motor_a: Array
    cable_a: Array
    battery_v: Array
    pressure_pa: NDArray[np.float32]

    @property
    def step_s(self) -> float:
        """Length of one step."""
        return float(self.time_s[1] - self.time_s[0])

    def time_at(self, angle_rad: Array) -> Array:
        """Return when the crank first stands at `angle_rad`; NaN where it never does."""
        forward = np.maximum.accumulate(self.angle_rad)
        at = np.searchsorted(forward, angle_rad)
        inside = (at > 0) & (at < forward.size)
        at = np.clip(at, 1, forward.size - 1)
        low, high = forward[at - 1], forward[at]
        part = (angle_rad - low) / np.where(high > low, high - low, 1)
        found: Array = np.where(inside, self.time_s[at - 1] + part * self.step_s, np.nan)
        return found

    def __post_init__(self) -> None:
        for values in (self.time_s, self.angle_rad, self.engine_rad_s, self.motor_a):
            values.setflags(write=False)
