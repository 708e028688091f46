"""Whether a channel looks like one cylinder's pressure, by its samples alone."""

from dataclasses import dataclass

import numpy as np

from traces.core.compression import Geometry
from traces.core.pressure.errors import PressureError
from traces.core.pressure.mean_cycle import CYCLE, lay_cycles
from traces.core.pressure.towers import find_towers
from traces.core.waveform import Floats

_RPM = (60.0, 2200.0)
_NEAR_DEG, _AWAY_DEG = 80, 120
_RATIOS = (7.0, 8.5, 10.0, 12.0, 14.5, 17.5, 21.0)
_EXPONENT = 1.3
_MISFIT, _RESTLESS = 0.10, 0.12
"""Shares of the tower's height: how far the mean cycle may lie from p V^1.3 about its top, and how
much the level beside it may swing. Simulated cylinders stay under 0.02 and 0.08; the clamp of an
engine with one good cylinder swings by 0.27, pulses of a cam are 0.16 off in shape."""


@dataclass(frozen=True, slots=True)
class CylinderSeen:
    """Compressions of one cylinder in a channel.

    Parameters
    ----------
    towers
        How many follow each other steadily.
    rpm
        Crank speed, two turns from one to the next.
    height
        Median of them over the level between, in the channel's unit.
    """

    towers: int
    rpm: float
    height: float


def cylinder_seen(values: Floats, rate_hz: float) -> CylinderSeen | None:
    """Return the compressions of a channel; None where it shows none of a single cylinder.

    Each has the shape of a volume that shrinks and grows again, once in two crank turns, and the
    level between is flat beside it. No current, voltage or row of teeth has both.
    """
    try:
        towers = find_towers(values, rate_hz)
    except PressureError:
        return None
    if not _RPM[0] < towers.rpm < _RPM[1]:
        return None
    mean = lay_cycles(towers).mean()
    height = float(np.median(towers.height))
    misfit, restless = _shape(mean, height)
    if misfit > _MISFIT or restless > _RESTLESS:
        return None
    return CylinderSeen(int(towers.centre_s.size), round(towers.rpm, 1), height)


def _shape(mean: Floats, height: float) -> tuple[float, float]:
    """Return how far a mean cycle lies from a compression's shape, and how it swings beside it."""
    near_deg = np.arange(-_NEAR_DEG, _NEAR_DEG + 1)
    near = mean[near_deg % CYCLE]
    misfits = []
    for ratio in _RATIOS:
        shape = Geometry(ratio).volume(np.abs(near_deg).astype(np.float64)) ** -_EXPONENT
        sides = np.column_stack([shape, np.ones(shape.size)])
        fitted = sides @ np.linalg.lstsq(sides, near, rcond=None)[0]
        misfits.append(float(np.sqrt(np.mean((near - fitted) ** 2))))
    away = mean[np.arange(_AWAY_DEG, CYCLE - _AWAY_DEG)]
    return min(misfits) / height, float(away.std()) / height
