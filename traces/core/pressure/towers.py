"""The compressions of one cylinder in its pressure: one tower every two crank turns."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.signal import find_peaks

from traces.core.pressure.errors import PressureError
from traces.core.waveform import Floats

_WORK_HZ = 25_000.0
_LEAST_APART_S = 0.024
"""Two towers at 5000 rpm."""
_LONGEST_APART_S = 2.4
"""Two towers at 50 rpm."""
_LEAST_HEIGHT = 0.3
_CHORDS = np.linspace(0.5, 0.85, 8)
_LEAST_SAMPLES = 20
_LEAST_CYCLES = 3
_STEADY_WITHIN = 0.12
_ALTERNATE = 0.75
_FLANK = 0.06
_WHOLE = 0.95
_LEAST_SAMPLES_A_TOWER = 12
_LEAST_OVER_NOISE = 12.0
_WIDTHS = (0.025, 0.16)
"""Share of the time between towers for which one is above half of its height; between 30 and 60
degrees of 720 in engines of ratios from 7 to 20, with room for a crank that slows there."""
_MOST_LOPSIDED = 1.6


@dataclass(frozen=True, slots=True, eq=False)
class Towers:
    """Compressions of one cylinder that follow each other steadily.

    Parameters
    ----------
    values
        The recording averaged down to `rate_hz`, in its own unit, shape (samples,).
    centre_s
        Middle of each tower, from the start of the recording, shape (towers,).
    height
        Of each over the level between them, same unit and shape.
    level
        Between the towers.
    step
        Smallest step of the recorder, same unit.
    noise
        Standard deviation of one averaged sample.
    before_s, after_s
        Where the first tower of all is well up and the last well down: outside may be rest.
    missed
        Places between towers where one should have been.
    """

    values: Floats
    rate_hz: float
    centre_s: Floats
    height: Floats
    level: float
    step: float
    noise: float
    before_s: float
    after_s: float
    missed: int

    @property
    def rpm(self) -> float:
        """Mean crank speed from tower to tower."""
        turns = 2 * (self.centre_s.size - 1 + self.missed)
        return float(60 * turns / (self.centre_s[-1] - self.centre_s[0]))


def find_towers(values: Floats, rate_hz: float) -> Towers:
    """Find the steady part of a recording of one cylinder's pressure.

    Parameters
    ----------
    values
        Samples in the recording's unit, NaN for gaps, shape (samples,).
    rate_hz
        Samples a second.

    Raises
    ------
    PressureError
        If they show no such thing.
    """
    known = np.isfinite(values)
    if known.sum() < 200:
        raise PressureError("none")
    filled = np.interp(np.arange(values.size), np.flatnonzero(known), values[known])
    step = _step_of(filled)
    every = max(1, int(rate_hz // _WORK_HZ))
    whole = filled.size // every * every
    if whole < _LEAST_SAMPLES * every:
        raise PressureError("few", towers=0, least=_LEAST_CYCLES + 1)
    work = filled[:whole].reshape(-1, every).mean(axis=1)
    work, rate_hz = median_filter(work, size=3), rate_hz / every
    noise = _noise(work)
    smooth = uniform_filter1d(work, max(1, round(0.002 * rate_hz)))
    level, top, bottom = (float(q) for q in np.quantile(smooth, (0.4, 1.0, 0.0)))
    reach = top - level
    if reach <= 0 or max(reach, level - bottom) < _LEAST_OVER_NOISE * max(noise, 0.3 * step):
        raise PressureError("noise" if top > bottom else "none")
    if level - bottom > 1.2 * reach:
        raise PressureError("upside-down")
    at = find_peaks(
        smooth,
        height=level + _LEAST_HEIGHT * reach,
        prominence=_LEAST_HEIGHT * reach,
        distance=max(1, int(_LEAST_APART_S * rate_hz)),
    )[0]
    at = _one_a_cycle(at, smooth - level)
    if at.size <= _LEAST_CYCLES:
        raise PressureError("few", towers=int(at.size), least=_LEAST_CYCLES + 1)
    apart = float(np.median(np.diff(at)))
    if apart / rate_hz > _LONGEST_APART_S:
        raise PressureError("shape")
    found = _Shapes(work, level, at, apart)
    found.check(step, rate_hz)
    from_first, to_last = _whole_ones(found.height)
    first, last, missed = _steady(at[from_first:to_last])
    first, last = first + from_first, last + from_first
    if last - first + missed < _LEAST_CYCLES:
        raise PressureError("unsteady", least=_LEAST_CYCLES)
    kept = slice(first, last + 1)
    return Towers(
        values=work,
        rate_hz=rate_hz,
        centre_s=found.centre[kept] / rate_hz + (every - 1) / (2 * rate_hz * every),
        height=found.height[kept],
        level=level,
        step=step,
        noise=noise,
        before_s=(at[0] - _FLANK * apart) / rate_hz,
        after_s=(at[-1] + _FLANK * apart) / rate_hz,
        missed=missed,
    )


class _Shapes:
    """What single towers look like."""

    def __init__(self, work: Floats, level: float, at: np.ndarray, apart: float) -> None:
        reach = round(0.12 * apart)
        self.centre = np.empty(at.size)
        self.height = np.empty(at.size)
        self.width = np.empty(at.size)
        self.lopsided = np.empty(at.size)
        self.flat = np.empty(at.size)
        self.top = np.empty(at.size)
        self.apart = apart
        for i, peak in enumerate(at):
            first = max(0, peak - reach)
            part = work[first : peak + reach + 1] - level
            top = int(np.argmax(part))
            near = part[max(0, top - 2) : top + 3]
            self.top[i] = part[top]
            self.height[i] = float(near.mean())
            chords = np.array([_chord(part, top, h * self.height[i]) for h in (0.5, *_CHORDS)])
            left, right = chords[:, 0], chords[:, 1]
            self.centre[i] = first + float((left[1:] + right[1:]).mean() / 2)
            self.width[i] = right[0] - left[0]
            self.lopsided[i] = (right[0] - top) / max(1e-9, top - left[0])
            self.flat[i] = float((part >= part[top]).sum()) / max(1.0, self.width[i])

    def check(self, step: float, rate_hz: float) -> None:
        """Raise where they are not those of a cylinder that is turned without fire."""
        width = float(np.median(self.width))
        if width < _LEAST_SAMPLES_A_TOWER:
            raise PressureError("low-rate", rate=f"{rate_hz:.0f}")
        levels = float(np.median(self.height)) / max(step, 1e-12)
        # the top of a parabola stays within a step for 1.3 / sqrt(levels) of its width
        same = float(np.ptp(self.top)) < 0.5 * step
        often = float(np.median(self.flat))
        if often > (0.06 if same else 0.12) + 2.0 / np.sqrt(levels):
            raise PressureError("clipped")
        if not _WIDTHS[0] < width / self.apart < _WIDTHS[1]:
            raise PressureError("shape")
        sides = float(np.median(self.lopsided))
        if sides > _MOST_LOPSIDED:
            raise PressureError("fires")
        if sides < 1 / _MOST_LOPSIDED / 1.5:
            raise PressureError("shape")


def _chord(part: Floats, top: int, height: float) -> tuple[float, float]:
    """Return where the tower passes a height on both sides, in samples."""
    left = np.flatnonzero(part[: top + 1] < height)
    right = np.flatnonzero(part[top:] < height)
    if left.size == 0 or right.size == 0:
        # as wide as was looked: no tower
        return 0.0, float(part.size - 1)
    i, j = int(left[-1]), top + int(right[0])
    low = i + (height - part[i]) / max(1e-12, part[i + 1] - part[i])
    high = j - (height - part[j]) / max(1e-12, part[j - 1] - part[j])
    return float(low), float(high)


def _one_a_cycle(at: np.ndarray, over: Floats) -> np.ndarray:
    """Leave the lower ones out where tall and low towers take turns: the other top dead centre."""
    if at.size < 6:
        return at
    heights = over[at]
    even, odd = float(np.median(heights[::2])), float(np.median(heights[1::2]))
    if min(even, odd) > _ALTERNATE * max(even, odd):
        return at
    tall, low = (heights[::2], heights[1::2]) if even > odd else (heights[1::2], heights[::2])
    if float(tall.min()) <= float(low.max()):
        return at
    return at[::2] if even > odd else at[1::2]


def _whole_ones(height: Floats) -> tuple[int, int]:
    """Return which towers to keep: a crank that starts or stops halfway compresses half a filling.

    A single low one at either end is such; the mean would not be the engine's.
    """
    bound = _WHOLE * float(np.median(height))
    first = int(height[0] < bound) if height.size > _LEAST_CYCLES + 1 else 0
    last = height.size - (int(height[-1] < bound) if height.size > _LEAST_CYCLES + 1 else 0)
    return first, last


def _steady(at: np.ndarray) -> tuple[int, int, int]:
    """Return first and last tower of the longest steady run, and how many are missing in it."""
    apart = np.diff(at).astype(np.float64)
    usual = float(np.median(apart))
    # a missing tower leaves twice the time; a crank that runs up does not
    often = np.maximum(1, np.rint(apart / usual))
    even = (np.abs(apart / often / usual - 1) < _STEADY_WITHIN) & (often <= 2)
    best, run, start = (0, 0), 0, 0
    for i, good in enumerate(even):
        if good:
            start = i if run == 0 else start
            run += 1
            best = max(best, (run, -start))
        else:
            run = 0
    length, first = best[0], -best[1]
    missed = int((often[first : first + length] - 1).sum())
    return first, first + length, missed


def _step_of(values: Floats) -> float:
    """Return the smallest step between values: the recorder's resolution."""
    some = np.unique(values[:: max(1, values.size // 200_000)])
    if some.size < 2:
        return 0.0
    steps = np.diff(some)
    return float(np.quantile(steps[steps > 1e-6 * float(np.ptp(some))], 0.1, method="lower"))


def _noise(values: Floats) -> float:
    """Return the standard deviation of one sample, from third differences."""
    third = np.diff(values, 3)
    return float(np.median(np.abs(third)) / 0.6745 / np.sqrt(20.0))
