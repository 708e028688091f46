"""A file's time column as start and rate, and values put on an even grid."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.readers.recording import ReadError
from traces.core.waveform import Samples

_EVEN_WITHIN = 0.4  # of a step: stamps written with few digits still count as even
_MOST_GROWTH = 8  # an uneven log may grow this many times when put on a grid
_FASTEST_S, _SLOWEST_S = 1e-12, 1e6  # far beyond what any instrument samples at
_MOST_LEVELS = 4  # a channel with so few values is a switch: held, not interpolated


@dataclass(frozen=True, slots=True)
class TimeBase:
    """Where rows belong on an even grid.

    Parameters
    ----------
    t0_s, rate_hz, samples
        The grid.
    rows_idx
        Grid index of each row, shape (rows,); None where rows and grid are the same.
    times_s
        The rows' own times where they are uneven, else None.
    """

    t0_s: float
    rate_hz: float
    samples: int
    rows_idx: NDArray[np.int64] | None = None
    times_s: NDArray[np.float64] | None = None

    @property
    def uniform(self) -> bool:
        """Whether the file's own steps are even."""
        return self.times_s is None

    def place(self, values: Samples) -> Samples:
        """Put one channel's rows on the grid; holes become NaN."""
        if self.times_s is not None:
            return self._resampled(values)
        if self.rows_idx is None:
            return values
        grid = np.full(self.samples, np.nan, dtype=np.float32)
        grid[self.rows_idx] = values
        return grid

    def _resampled(self, values: Samples) -> Samples:
        times = self.times_s
        assert times is not None  # noqa: S101 - narrows the type; the caller checked
        good = np.isfinite(values)
        if not good.any():
            return np.full(self.samples, np.nan, dtype=np.float32)
        grid_s = self.t0_s + np.arange(self.samples) / self.rate_hz
        known_s, known = times[good], values[good].astype(np.float64)
        if np.unique(known[:4096]).size <= _MOST_LEVELS:
            at = np.clip(np.searchsorted(known_s, grid_s, side="right") - 1, 0, None)
            return known[at].astype(np.float32)
        return np.interp(grid_s, known_s, known).astype(np.float32)


def time_base(times_s: NDArray[np.float64]) -> TimeBase:
    """Fit an even grid to a time column.

    Parameters
    ----------
    times_s
        Shape (rows,), seconds, finite.

    Raises
    ------
    ReadError
        If time stands still or runs backwards.
    """
    rows = times_s.size
    if rows < 2:
        raise ReadError(
            "There is only one row of numbers; a recording needs many, so export the samples too."
        )
    steps = np.diff(times_s)
    if not times_s[-1] > times_s[0] or bool((steps < 0).any()):
        back = int(np.argmax(steps <= 0)) + 2
        raise ReadError(
            f"Time does not rise in row {back} of the numbers; check that the first column is "
            "time and export the recording again."
        )
    span_s = float(times_s[-1] - times_s[0])
    if not _FASTEST_S <= span_s / (rows - 1) <= _SLOWEST_S:
        raise ReadError(
            f"The times are {span_s / (rows - 1):.3g} s apart on average, which no recording is; "
            "check the time column and export the recording again."
        )
    fitted = times_s[0] + span_s * np.arange(rows) / (rows - 1)
    step_s = span_s / (rows - 1)
    off = float(np.abs(times_s - fitted).max())
    if off <= _EVEN_WITHIN * step_s:
        return TimeBase(float(times_s[0]), _plain_rate(1.0 / step_s, off / span_s), rows)
    return _with_holes(times_s, steps) or _uneven(times_s, steps)


def _with_holes(times_s: NDArray[np.float64], steps: NDArray[np.float64]) -> TimeBase | None:
    """Return an even grid with rows missing, or None where the steps are uneven."""
    step_s = float(np.median(steps))
    if not step_s > 0:
        return None
    rows_idx = np.concatenate(([0], np.cumsum(np.rint(steps / step_s).astype(np.int64))))
    count = int(rows_idx[-1])
    if np.any(np.diff(rows_idx) == 0) or count + 1 > 4 * times_s.size:
        return None
    step_s = float(times_s[-1] - times_s[0]) / count
    off = float(np.abs(times_s - times_s[0] - rows_idx * step_s).max())
    if off > _EVEN_WITHIN * step_s:
        return None
    rate_hz = _plain_rate(1.0 / step_s, off / float(times_s[-1] - times_s[0]))
    return TimeBase(float(times_s[0]), rate_hz, count + 1, rows_idx)


def _uneven(times_s: NDArray[np.float64], steps: NDArray[np.float64]) -> TimeBase:
    span_s = float(times_s[-1] - times_s[0])
    finest_s = max(
        float(np.quantile(steps[steps > 0], 0.1)), span_s / (_MOST_GROWTH * times_s.size)
    )
    samples = int(np.floor(span_s / finest_s)) + 1
    # equal stamps would make interpolation depend on their order: the last one counts
    return TimeBase(float(times_s[0]), 1.0 / finest_s, samples, times_s=times_s)


def _plain_rate(rate_hz: float, doubt: float) -> float:
    """Return the roundest rate the stamps allow: 499999.99997 is 500000.

    `doubt` is how far the stamps stray from even, as a share of the whole span.
    """
    for digits in range(1, 10):
        rounded = float(f"{rate_hz:.{digits - 1}e}")
        if abs(rounded / rate_hz - 1.0) <= max(doubt, 1e-9):
            return rounded
    return rate_hz
