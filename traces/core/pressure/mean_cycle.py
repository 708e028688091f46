"""Cycles of a pressure laid over crank angle, and their mean."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from traces.core.pressure.towers import Towers
from traces.core.waveform import Floats

CYCLE = 720
_MOST_APART = 1.6


@dataclass(frozen=True, slots=True, eq=False)
class Cycles:
    """Cycles by degree from the middle of their compression tower.

    Parameters
    ----------
    rows
        In the recording's unit, shape (cycles, 720); column i is i degrees after a tower's middle.
    deg_per_s
        Mean speed of each, shape (cycles,).
    """

    rows: Floats
    deg_per_s: Floats

    def mean(self, chosen: np.ndarray | None = None) -> Floats:
        """Return the mean of all or of chosen cycles, single spikes left out, shape (720,)."""
        rows = self.rows if chosen is None else self.rows[chosen]
        middle = np.median(rows, axis=0)
        spread = np.median(np.abs(rows - middle), axis=0)
        bound = 4 * np.maximum(spread, np.median(spread)) + 1e-12
        return np.asarray(np.clip(rows, middle - bound, middle + bound).mean(axis=0))


def lay_cycles(towers: Towers) -> Cycles:
    """Lay each cycle, from tower to tower, over crank angle.

    A cylinder of a four-stroke engine has one compression in 720 degrees, so that towers are the
    marks of the crank; between them the speed changes smoothly from cycle to cycle. Its swing
    within a cycle is not in the recording.
    """
    centre_s = towers.centre_s
    angle_at = PchipInterpolator(centre_s, np.arange(centre_s.size) * float(CYCLE))
    time_s = np.arange(towers.values.size) / towers.rate_hz
    apart = np.diff(centre_s)
    whole = np.flatnonzero(apart < _MOST_APART * np.median(apart))
    rows = np.empty((whole.size, CYCLE))
    for row, i in enumerate(whole):
        first, last = np.searchsorted(time_s, (centre_s[i], centre_s[i + 1]))
        first, last = max(0, first - 2), min(time_s.size, last + 2)
        deg = angle_at(time_s[first:last]) - i * CYCLE
        rows[row] = _by_degree(deg, towers.values[first:last])
    return Cycles(rows, CYCLE / apart[whole])


def _by_degree(deg: Floats, values: Floats) -> Floats:
    """Return the mean of each degree, or what lies between samples that are further apart."""
    grid = np.arange(CYCLE, dtype=np.float64)
    if deg.size < 2.5 * CYCLE:
        return np.asarray(np.interp(grid, deg, values))
    place = np.rint(deg).astype(int)
    inside = (place >= 0) & (place < CYCLE)
    count = np.bincount(place[inside], minlength=CYCLE)
    total = np.bincount(place[inside], values[inside], minlength=CYCLE)
    mean = total / np.maximum(count, 1)
    # half of the first degree lies before the tower's middle and is not there
    mean[0] = np.interp(0.0, deg, values)
    return np.asarray(np.where(count > 0, mean, np.interp(grid, deg, values)))
