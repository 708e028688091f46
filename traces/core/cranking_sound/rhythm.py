"""The beat of compressions in a cranking sound: its rate, and where in it each moment stands."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.cranking_sound.loudness import LOUDNESS_HZ, Loudness
from traces.core.waveform import Floats

Trouble: TypeAlias = Literal["too-short", "no-beat"]

LEAST_RPM, MOST_RPM = 130.0, 380.0
"""Slower, a starter stalls; faster, an engine runs."""
LEAST_CYCLES = 6
_WINDOW_S = 2.0
_STEP_S = 0.25
_GRID_HZ = 0.02
_PADDED = 8
_LEAST_OVER_NOISE = 6.0
"""Of the strongest line over the floor between lines, as a ratio of powers."""
_WITHIN = 0.10
"""How far the rate of neighbouring windows may differ: a battery tires slowly."""
_NEAR = 0.2
_LEAST_OF_SLOWER = 0.2
"""Of the strongest line of the engine cycle: at twice their rate, compressions are one of them."""
_AS_GOOD = 0.85
_MUCH_MORE = 1.3


class BeatError(Exception):
    """No steady beat was found; `trouble` says why."""

    def __init__(self, trouble: Trouble) -> None:
        super().__init__(trouble)
        self.trouble: Trouble = trouble


@dataclass(frozen=True, slots=True)
class Beat:
    """Compressions in a steadily cranked part of a recording.

    Parameters
    ----------
    swing
        Loudness over its level, `LOUDNESS_HZ` values a second.
    compressions
        At each of its values, how many compressions have gone by; whole where one is loudest.
    rate_hz
        Compressions a second, the mean.
    from_s, to_s
        Where the part lies in the recording.
    """

    swing: Floats
    compressions: Floats
    rate_hz: float
    from_s: float
    to_s: float


def find_beat(loudness: Loudness, cylinders: int) -> Beat:
    """Return the beat of the longest steadily cranked part.

    Lines in the spectrum of the loudness stand at the engine cycle and its multiples, as many as
    there are cylinders up to the compressions themselves. The rate is the one whose lines hold
    most of the power, if the line at that rate is a strong one itself; of rates that hold as much,
    the fastest, because lines of half a rate are those of the whole and more.

    Raises
    ------
    BeatError
        If the part is shorter than `LEAST_CYCLES` engine cycles or no line stands out.
    """
    window = round(_WINDOW_S * LOUDNESS_HZ)
    if loudness.values.size < window:
        raise BeatError("too-short")
    swing = loudness.swing()
    step = round(_STEP_S * LOUDNESS_HZ)
    starts = range(0, swing.size - window + 1, step)
    search = _Search.of(cylinders)
    lines = [search.lines(swing[at : at + window]) for at in starts]
    rates_hz = search.rates_near(*search.common_rate(np.array(lines)))
    first, last = _steady(rates_hz)
    if first == last:
        raise BeatError("no-beat")
    part = loudness.part(starts[first], starts[last - 1] + window)
    inside = part.swing()
    rate_hz = float(np.median(rates_hz[first:last]))
    if part.duration_s * rate_hz / cylinders < LEAST_CYCLES:
        raise BeatError("too-short")
    compressions = _counted(inside, rate_hz, cylinders)
    mean_hz = (compressions[-1] - compressions[0]) / part.duration_s
    return Beat(inside, compressions, float(mean_hz), part.from_s, part.from_s + part.duration_s)


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """Rates of compressions that are tried, and what lines of each hold."""

    cylinders: int
    rates_hz: Floats

    @classmethod
    def of(cls, cylinders: int) -> "_Search":
        lowest, highest = (rpm * cylinders / 120.0 for rpm in (LEAST_RPM, MOST_RPM))
        return cls(cylinders, np.arange(lowest, highest + _GRID_HZ, _GRID_HZ))

    def lines(self, swing: Floats) -> Floats:
        """Return the power that lines of each rate hold, and that where the rate itself is strong.

        Two rows of shares of all power; 0 where nothing beats, or not strongly at that rate.
        """
        padded = _PADDED * swing.size
        power = np.abs(np.fft.rfft(swing * np.hanning(swing.size), padded)) ** 2
        lines_hz = np.fft.rfftfreq(padded, 1.0 / LOUDNESS_HZ)
        among = (lines_hz > 0.5) & (lines_hz < 2.0 * self.rates_hz[-1])
        floor = float(np.median(power[among]))
        multiples = np.arange(1, 2 * self.cylinders + 1) / self.cylinders
        at_lines = np.interp(self.rates_hz[:, None] * multiples, lines_hz, power) - floor
        own = at_lines[:, self.cylinders - 1]
        slower = at_lines[:, : self.cylinders - 1].max(axis=1, initial=0.0)
        held = np.maximum(at_lines, 0.0).sum(axis=1) / power[among].sum()
        beats = at_lines.max(axis=1) > _LEAST_OVER_NOISE * floor
        strongly = (own > _LEAST_OVER_NOISE * floor) & (own > _LEAST_OF_SLOWER * slower)
        return np.stack([np.where(beats, held, 0.0), np.where(strongly, held, 0.0)])

    def common_rate(self, lines: Floats) -> tuple[Floats, float]:
        """Return each window's power by rate, and the rate that holds most of all; NaN for none.

        A rate whose own line is weak counts only where it holds much that no other does: one
        compression is missing then, and the engine cycle is louder than the compressions.
        """
        width = round(0.5 / _GRID_HZ)
        any_line, strong = scipy.ndimage.uniform_filter1d(lines.mean(axis=0), width, axis=1)
        is_one_missing = any_line.max() > _MUCH_MORE * strong.max()
        held, row = (any_line, 0) if is_one_missing else (strong, 1)
        if not held.any():
            return lines[:, row], float("nan")
        at = int(np.flatnonzero(held >= _AS_GOOD * held.max())[-1])
        # the top of that hill, not its foot
        while at > 0 and held[at - 1] > held[at]:
            at -= 1
        return lines[:, row], float(self.rates_hz[at])

    def rates_near(self, held: Floats, rate_hz: float) -> Floats:
        """Return each window's rate about the common one; NaN where it holds none there."""
        near = np.abs(self.rates_hz / rate_hz - 1.0) < _NEAR
        if not near.any():
            return np.full(len(held), np.nan)
        there = held[:, near]
        best = self.rates_hz[near][np.argmax(there, axis=1)]
        return np.asarray(np.where(there.max(axis=1) > 0.0, best, np.nan))


def _steady(rates_hz: Floats) -> tuple[int, int]:
    """Return the longest run of windows whose rates follow one another: first, one past last."""
    best, begin = (0, 0), 0
    for at in range(rates_hz.size + 1):
        goes_on = (
            at < rates_hz.size
            and np.isfinite(rates_hz[at])
            and (at == begin or abs(rates_hz[at] / rates_hz[at - 1] - 1.0) < _WITHIN)
        )
        if not goes_on:
            if at - begin > best[1] - best[0]:
                best = begin, at
            begin = at if at < rates_hz.size and np.isfinite(rates_hz[at]) else at + 1
    return best


def _counted(swing: Floats, rate_hz: float, cylinders: int) -> Floats:
    """Return the compressions gone by at each step: the phase of the line at their rate.

    It follows the speed over an engine cycle and more, but no single compression, or a quiet one
    would be given less time.
    """
    turns = rate_hz * np.arange(swing.size) / LOUDNESS_HZ
    beside = swing * np.exp(-2j * np.pi * turns)
    narrow = scipy.signal.butter(2, 0.5 * rate_hz / cylinders, fs=LOUDNESS_HZ, output="sos")
    slow = scipy.signal.sosfiltfilt(narrow, beside)
    return np.asarray(turns + np.unwrap(np.angle(slow)) / (2.0 * np.pi))
