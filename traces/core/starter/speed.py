"""Cranking speed and its trend, from the engine's cycles in the current."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.waveform import Floats

_POINTS = 180
_REACH_CYCLES = 0.06
LEAST_CYCLES = 5
"""Under these a parabola has no error worth telling."""

SPREAD = 0.95
"""Share of an interval."""


@dataclass(frozen=True, slots=True)
class Trend:
    """How the speed changes, rpm a second, with its 95 % interval."""

    rpm_per_s: float
    low_rpm_per_s: float
    high_rpm_per_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Cycles:
    """Whole engine cycles of a crank.

    Parameters
    ----------
    edges
        Count of cycles at their borders, shape (cycles + 1,).
    times_s
        When those are passed, in the file's own time, shape (cycles + 1,).
    """

    edges: Floats
    times_s: Floats

    @property
    def whole(self) -> int:
        """How many there are."""
        return self.edges.size - 1

    @property
    def rpm(self) -> float:
        """Mean crank speed over them: two turns each."""
        return 120.0 * self.whole / float(self.times_s[-1] - self.times_s[0])


def whole_cycles(times_s: Floats, count: Floats, from_s: float, to_s: float) -> Cycles | None:
    """Return the whole cycles between two times; None where there is not one.

    Parameters
    ----------
    times_s, count
        Engine cycles passed at each time, rising; same shape.
    """
    begin, end = (float(v) for v in np.interp((from_s, to_s), times_s, count))
    whole = int(np.floor(end - begin + 1e-9))
    if whole < 1:
        return None
    # the last ones: the run-up ends slowly
    edges = end - whole + np.arange(whole + 1, dtype=np.float64)
    return Cycles(edges, np.asarray(np.interp(edges, count, times_s), dtype=np.float64))


def trend_of(cycles: Cycles, times_s: Floats, count: Floats, current_a: Floats) -> Trend | None:
    """Fit a steady change of speed to the cycles.

    How far each cycle really stands from where `count` puts it is read by laying its current
    over the mean cycle's; a parabola through the places gives speed and its change.

    Returns
    -------
    Trend or None
        None under five cycles.
    """
    if cycles.whole < LEAST_CYCLES:
        return None
    middles = cycles.edges[:-1] + 0.5
    at = cycles.edges[:-1, None] + np.arange(_POINTS) / _POINTS
    folded = np.interp(at, count, current_a)
    places = middles - _lags(folded)
    middle_s = np.interp(middles, count, times_s)
    centre_s = float(middle_s.mean())
    fitted = parabola(middle_s - centre_s, places)
    slope = 2.0 * fitted.coefficients[2] * 120.0
    error = 2.0 * fitted.errors[2] * 120.0
    half = float(scipy.stats.t.ppf(0.5 + SPREAD / 2, cycles.whole - 3)) * error
    return Trend(slope, slope - half, slope + half)


@dataclass(frozen=True, slots=True, eq=False)
class Parabola:
    """Coefficients of 1, x, x^2 and their standard errors."""

    coefficients: Floats
    errors: Floats


def parabola(x: Floats, y: Floats) -> Parabola:
    """Fit a parabola by least squares; errors from what is left over."""
    scale = float(np.abs(x).max()) or 1.0
    columns = np.vander(x / scale, 3, increasing=True)
    solved, _, _, _ = np.linalg.lstsq(columns, y, rcond=None)
    left = y - columns @ solved
    variance = float(left @ left) / (x.size - 3)
    covariance = variance * np.linalg.inv(columns.T @ columns)
    back = scale ** -np.arange(3.0)
    return Parabola(solved * back, np.sqrt(np.diag(covariance)) * back)


def _lags(folded: Floats) -> Floats:
    """Return by how much of a cycle each row comes later than the mean row."""
    level = folded - folded.mean(axis=1, keepdims=True)
    usual = np.median(level, axis=0)
    reach = round(_REACH_CYCLES * _POINTS)
    shifts = np.arange(-reach, reach + 1)
    # rows are not periodic: compare inside, away from the ends
    inside = slice(reach, _POINTS - reach)
    parts = np.stack([level[:, inside.start + s : inside.stop + s] for s in shifts])
    # shapes are compared: a part with larger values must not win by size
    size = np.sqrt((parts**2).sum(axis=2))
    likeness = (parts @ usual[inside]) / np.maximum(size, 1e-12)
    best = np.clip(np.argmax(likeness, axis=0), 1, shifts.size - 2)
    rows = np.arange(folded.shape[0])
    left, top, right = (likeness[best + k, rows] for k in (-1, 0, 1))
    bend = left - 2 * top + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    return np.asarray((shifts[best] + np.clip(part, -1, 1)) / _POINTS, dtype=np.float64)
