"""Engine cycles in the current alone: how long they are and where each sample falls."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.waveform import Floats

SLOWEST_RPM = 70.0
FASTEST_RPM = 450.0
"""Bounds of electric cranking: diesel from about 80, warm petrol up to 300 and some over."""

_USUAL_RPM = 210.0  # middle of the usual range, warm (from memory)
_USUAL_SPREAD = 0.45  # of ln(rpm)
_SLOW_S = 0.4
USUAL_CYCLE_S = 120.0 / _USUAL_RPM
_STEPS_A_CYCLE = 4
_SMOOTH_DEGREE = 3


@dataclass(frozen=True, slots=True, eq=False)
class Repeats:
    """How well the current repeats itself after each lag.

    Parameters
    ----------
    lags_s
        Shape (lags,).
    likeness
        Correlation of the current with itself that much later, shape (lags,), -1 to 1.
    """

    lags_s: Floats
    likeness: Floats

    def at(self, lag_s: float) -> float:
        """Return the best likeness within 2 % of a lag; 0 beyond what was measured."""
        near = np.abs(self.lags_s / lag_s - 1.0) < 0.02
        return float(self.likeness[near].max()) if near.any() else 0.0

    @property
    def best(self) -> float:
        """Largest likeness at a lag that a cycle, or half of one, could have."""
        long = self.lags_s > 60.0 / FASTEST_RPM
        return float(self.likeness[long].max()) if long.any() else 0.0

    def peak_near(self, lag_s: float, within: float = 0.05) -> float:
        """Return the lag of the best likeness within a share of `lag_s`."""
        near = np.flatnonzero(np.abs(self.lags_s / lag_s - 1.0) < within)
        if near.size == 0:
            return lag_s
        return float(self.lags_s[near[int(np.argmax(self.likeness[near]))]])


def unusual(rpm: float) -> float:
    """Return how far a speed lies from the middle of the usual ones, in spreads."""
    return float(np.log(rpm / _USUAL_RPM) / _USUAL_SPREAD)


def levelled(current_a: Floats, rate_hz: float) -> Floats:
    """Return the current about its slow course: run-up and battery sag taken out."""
    return current_a - scipy.ndimage.gaussian_filter1d(current_a, _SLOW_S * rate_hz, mode="nearest")


def repeats_of(current_a: Floats, rate_hz: float) -> Repeats:
    """Correlate a stretch of current with itself at every lag a cycle could have.

    Only neighbouring cycles are compared, so a slow drift of speed does no harm.
    """
    least = max(2, int(rate_hz * 120.0 / FASTEST_RPM / 16))
    most = min(int(rate_hz * 120.0 / SLOWEST_RPM), current_a.size * 2 // 3)
    level = current_a - current_a.mean()
    lags = np.arange(least, max(most, least))
    size = level.size
    products = scipy.signal.correlate(level, level, method="fft")[size - 1 :][lags]
    count = size - lags
    sums, squares = (np.concatenate(([0.0], np.cumsum(v))) for v in (level, level * level))
    head, tail = sums[count], sums[size] - sums[lags]
    head_power = squares[count] - head**2 / count
    tail_power = squares[size] - squares[lags] - tail**2 / count
    scale = np.sqrt(np.maximum(head_power * tail_power, 0.0))
    likeness = np.where(scale > 0, (products - head * tail / count) / np.maximum(scale, 1e-30), 0)
    return Repeats(lags / rate_hz, np.clip(likeness, -1.0, 1.0))


def harmonic_powers(current_a: Floats, rate_hz: float, cycle_s: float, count: int) -> Floats:
    """Return the power at 1 to `count` times a cycle, shape (count,).

    Each whole cycle is taken by itself, so that speed drift does not smear the lines; the
    powers are those of the mean cycle's Fourier series.
    """
    length = cycle_s * rate_hz
    cycles = int(current_a.size // length)
    points = 4 * count
    if cycles < 1:
        return np.zeros(count)
    at = (np.arange(cycles)[:, None] + np.arange(points) / points) * length
    folded = np.interp(at, np.arange(current_a.size), current_a - current_a.mean())
    lines = np.fft.rfft(folded, axis=1)[:, 1 : count + 1]
    # per cycle the lines keep their phase to each other only; average the powers
    return np.asarray((np.abs(lines) ** 2).mean(axis=0) / points**2 * 2, dtype=np.float64)


def cycle_from_current(
    current_a: Floats, rate_hz: float, cylinders: int, repeats: Repeats
) -> float | None:
    """Find the length of an engine cycle without a sync, in seconds.

    The pattern's own period holds one cycle or, with alike cylinders, a part of it: the part
    is settled by which line of the spectrum is the humps' and by the usual speed.

    Returns
    -------
    float or None
        None where nothing repeats.
    """
    pattern_s = _pattern_period(repeats)
    if pattern_s is None:
        return None
    best: tuple[float, float] | None = None
    for humps in range(1, cylinders + 1):
        if cylinders % humps:
            continue
        cycle_s = pattern_s * cylinders / humps
        rpm = 120.0 / cycle_s
        if not SLOWEST_RPM <= rpm <= FASTEST_RPM:
            continue
        powers = harmonic_powers(current_a, rate_hz, pattern_s, 2 * humps)
        share = powers[humps - 1] / max(float(powers[: 2 * humps].max()), 1e-12)
        score = float(np.log(max(share, 1e-6)) - unusual(rpm) ** 2)
        if best is None or score > best[0]:
            best = (score, cycle_s)
    if best is None:
        return None
    return repeats.peak_near(best[1], within=0.03)


def count_cycles(current_a: Floats, rate_hz: float, cycle_s: float, humps: int) -> Floats:
    """Follow the cycles through a stretch of cranking.

    Parameters
    ----------
    current_a
        Shape (samples,); the part after the inrush.
    cycle_s
        Rough length of a cycle.
    humps
        In a cycle: from one cycle to the next the length may change by less than half a hump.

    Returns
    -------
    Floats
        Cycles passed since the first sample, shape (samples,); rises smoothly.
    """
    step_s = 1.0 / rate_hz
    window = max(4, round(cycle_s * rate_hz))
    starts = np.arange(0, current_a.size - 2 * window, max(1, window // _STEPS_A_CYCLE))
    if starts.size < 2:
        return np.asarray(np.arange(current_a.size) * step_s / cycle_s, dtype=np.float64)
    reach = max(2, min(round(0.4 * window / humps), window // 8))
    level = current_a - scipy.ndimage.uniform_filter1d(current_a, window, mode="nearest")
    lengths = _lags(level, starts, window, reach)
    lengths = scipy.ndimage.median_filter(lengths, 5, mode="nearest")
    # a lag from `start` spans two windows: it is the period at their meeting point
    middle = starts + window
    degree = min(_SMOOTH_DEGREE, starts.size // (2 * _STEPS_A_CYCLE))
    centre, scale = float(middle.mean()), max(1.0, float(np.ptp(middle)) / 2)
    shape = np.polynomial.Polynomial.fit((middle - centre) / scale, 1.0 / lengths, degree)
    at = np.clip(np.arange(current_a.size), middle[0], middle[-1])
    pace = np.asarray(shape((at - centre) / scale), dtype=np.float64)
    return np.concatenate(([0.0], np.cumsum((pace[1:] + pace[:-1]) / 2))).astype(np.float64)


def _pattern_period(repeats: Repeats) -> float | None:
    """Return the shortest lag after which the current is as like itself as it gets."""
    if repeats.likeness.size < 3:
        return None
    peaks, _ = scipy.signal.find_peaks(repeats.likeness)
    if peaks.size == 0:
        return None
    best = float(repeats.likeness[peaks].max())
    if best < 0.3:
        return None
    close = peaks[repeats.likeness[peaks] >= best - max(0.05 * best, 0.3 * (1.0 - best))]
    return float(repeats.lags_s[close[0]])


def _lags(level: Floats, starts: NDArray[np.int64], window: int, reach: int) -> Floats:
    """Return the lag at each start, going out from the middle.

    Each is looked for near its neighbour's, so that speed may change a lot over the capture
    and still never be a hump off.
    """
    lags = np.empty(starts.size)
    middle = starts.size // 2
    sums, squares = (np.concatenate(([0.0], np.cumsum(v))) for v in (level, level * level))
    windows = np.lib.stride_tricks.sliding_window_view(level, window)
    totals = sums[window:] - sums[:-window]
    sizes = np.sqrt(np.maximum(squares[window:] - squares[:-window] - totals**2 / window, 1e-30))

    def lag(start: int, near: int) -> float:
        """Return the shift, in samples and parts, at which the next window is most alike."""
        first = max(1, near - reach)
        last = min(near + reach, level.size - window - start)
        if last < first:
            return float(near)
        there = slice(start + first, start + last + 1)
        products = windows[there] @ windows[start] - totals[there] * totals[start] / window
        likeness = products / sizes[there]
        at = int(np.argmax(likeness))
        if 0 < at < likeness.size - 1:
            left, top, right = likeness[at - 1 : at + 2]
            bend = left - 2 * top + right
            return float(first + at + (0.5 * (left - right) / bend if bend < 0 else 0.0))
        return float(first + at)

    for order in (range(middle, starts.size), range(middle - 1, -1, -1)):
        near = window if order.start == middle else round(float(lags[middle]))
        for i in order:
            lags[i] = lag(int(starts[i]), near)
            near = round(float(lags[i]))
    return lags
