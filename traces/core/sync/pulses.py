"""Events on a channel: everything that stands out of it, and how well it keeps to a period."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.waveform import BLOCK, Channel, Floats, Summary, Waveform

_NOISE_TIMES = 8.0  # a pulse stands this many standard deviations above the channel's noise
_LEAST_SHARE = 0.10  # neighbours leak in at 10 to 30 % (from the trial's recordings)
_APART_S = 0.012  # ringing after one event ends sooner; 16 cylinders at 450 rpm are 17 ms apart
_FOR_PERIODS = 24
_FOR_BEATS = 40
_PERIODS_S = np.exp(np.arange(np.log(0.12), np.log(1.9), 0.004))  # 360 degrees to 720
_PERIOD_WITHIN = 0.02
_WITHIN_S = 0.004  # half a period of the slowest ringing
_STEPS = 2.5  # of the converter: the last bit flickers
_ENOUGH_SAMPLES = 20_000
_LEVELS_AT, _LEVEL_WITHIN, _MOSTLY_AT_LEVELS = (0.1, 0.9), 0.15, 0.9
_LEAST_OF_ALL = 0.5
_NEAR_HALF = 0.15
EDGE_TURNS_AT = 0.5 + _NEAR_HALF
"""Share of the time high above which a signal of two levels is taken to rest high."""

_NEAR_BLOCKS = 16  # blocks this near to each other are looked at in one go


@dataclass(frozen=True, slots=True, eq=False)
class Pulses:
    """Candidate events: when and how strong (volts or shares above the resting level).

    `high_share` is how much of the time a signal of two levels is at the higher one; None for any
    other signal.
    """

    times_s: Floats
    heights: Floats
    high_share: float | None = None

    def energies(self) -> Floats:
        """Return squared heights, a lone spike held to twice the second highest.

        A slow recorder catches the ringing anywhere, so that heights of one and the same event
        vary a lot; neighbours that leak in at 30 % have a tenth of the energy all the same.
        """
        if self.heights.size < 2:
            return np.asarray(self.heights**2)
        return np.asarray(np.minimum(self.heights, 2 * np.partition(self.heights, -2)[-2]) ** 2)

    def strongest(self, most: int) -> "Pulses":
        """Return so many of the strongest, in order of time."""
        chosen = np.sort(np.argsort(-self.heights, kind="stable")[:most])
        return Pulses(self.times_s[chosen], self.heights[chosen])

    def periods_s(self) -> list[float]:
        """Return the periods after which strong pulses come again, likeliest first."""
        if self.times_s.size < 2:
            return []
        some = self.strongest(_FOR_PERIODS)
        apart_s, weights = _pairs(some)
        times = apart_s / _PERIODS_S[:, None]
        whole = np.maximum(np.rint(times), 1.0)
        near = np.exp(-0.5 * ((times - whole) / (_PERIOD_WITHIN * whole)) ** 2)
        likely = (near * weights / whole).sum(axis=1)
        peaks = scipy.signal.find_peaks(np.pad(likely, 1))[0] - 1
        return [float(_PERIODS_S[i]) for i in peaks[np.argsort(-likely[peaks], kind="stable")][:3]]


@dataclass(frozen=True, slots=True)
class Beat:
    """How well pulses keep to a period.

    Parameters
    ----------
    share
        Of pairs of pulses, by their energy: those a whole number of periods apart; 0 to 1.
    present
        Events for each period from the first to the last of them; 1 where none is missed.
    """

    share: float
    present: float


def beat_of(pulses: Pulses, period_s: float) -> Beat | None:
    """Return how well `pulses` keep to a period; None with fewer than two."""
    if pulses.times_s.size < 2:
        return None
    some = pulses.strongest(_FOR_BEATS)
    apart_s, weights = _pairs(some)
    times = apart_s / period_s
    whole = np.rint(times)
    # speed changes over the capture: what is many periods apart may be off by more
    near = (np.abs(times - whole) < 0.03 + 0.012 * whole) & (whole >= 1)
    energies = some.energies()
    number = float(energies.sum() ** 2 / (energies**2).sum())
    strong = some.times_s[energies > 0.25 * np.partition(energies, -2)[-2]]
    return Beat(
        share=float((weights * near).sum() / weights.sum()),
        present=min(1.0, number / (float(np.ptp(strong)) / period_s + 1.0)),
    )


def _pairs(pulses: Pulses) -> tuple[Floats, Floats]:
    """Return how far apart pulses are, and the product of their energies, for each pair."""
    one, other = np.triu_indices(pulses.times_s.size, 1)
    energies = pulses.energies()
    return pulses.times_s[other] - pulses.times_s[one], energies[one] * energies[other]


def find_pulses(waveform: Waveform, channel: Channel, from_s: float, to_s: float) -> Pulses:
    """Find everything that stands out of the sync channel, up or down.

    A pulse, a burst of ringing or the window of a cam wheel is one event: it comes when the
    signal first reaches half of its height. Of two levels the one that lasts longer is rest; the
    lower one where neither clearly does, so that the same edge counts in every recording.

    Parameters
    ----------
    waveform
        For the time base.
    channel
        The sync channel, any unit; gaps count as rest.
    from_s, to_s
        The part to look at, in the file's own time.
    """
    first = max(0, int((from_s - waveform.t0_s) * waveform.rate_hz))
    last = min(waveform.samples, int((to_s - waveform.t0_s) * waveform.rate_hz) + 1)
    if last - first < 8:
        return Pulses(np.empty(0), np.empty(0))
    rest, noise_floor, step_floor, high_share = _rest_and_floors(
        channel.sampled(_ENOUGH_SAMPLES, first=first, last=last)
    )
    parts = _Swing(channel, first, last, rest)
    largest = parts.largest()
    # a channel that only switches has one step, from rest to event
    floor = max(noise_floor, min(step_floor, 0.5 * largest), _LEAST_SHARE * largest, 1e-12)
    starts, ends, heights = _bursts(parts, floor, max(1.0, _WITHIN_S * waveform.rate_hz))
    if starts.size == 0:
        return Pulses(np.empty(0), np.empty(0))
    at = np.array(
        [
            parts.first_above(start, end, 0.5 * height)
            for start, end, height in zip(starts, ends, heights, strict=True)
        ],
        dtype=np.int64,
    )
    keep = _strongest_apart(at / waveform.rate_hz, heights.astype(np.float64))
    times_s = waveform.t0_s + (first + at[keep]) / waveform.rate_hz
    return Pulses(times_s, np.asarray(heights[keep], dtype=np.float64), high_share)


@dataclass(frozen=True, slots=True, eq=False)
class _Swing:
    """How far a stretch of a channel stands from its rest, part by part; gaps are rest."""

    channel: Channel
    first: int
    last: int
    rest: float

    def largest(self) -> float:
        """Return the largest swing."""
        if self.channel.summary is None:
            return self._largest_of(0, self.last - self.first)
        first, last, swings = self._by_block(self.channel.summary)
        ends = (self._largest_of(0, first), self._largest_of(last, self.last - self.first))
        return max(float(swings.max(initial=0.0)), *ends)

    def reaching(self, level: float) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield, in order, parts that hold all samples above a level: where each begins, and it.

        Blocks are passed over whose extremes, known from reading, lie below.
        """
        if self.channel.summary is None:
            yield from self.between(0, self.last - self.first)
            return
        first, last, swings = self._by_block(self.channel.summary)
        yield from self.between(0, first)
        above = np.flatnonzero(swings > level)
        if above.size:
            breaks = np.diff(above) > _NEAR_BLOCKS
            starts = above[np.concatenate(([True], breaks))]
            ends = above[np.concatenate((breaks, [True]))] + 1
            for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
                yield from self.between(first + start * BLOCK, first + end * BLOCK)
        yield from self.between(last, self.last - self.first)

    def _by_block(self, summary: Summary) -> tuple[int, int, NDArray[np.float32]]:
        """Return where whole blocks of the stretch begin and end in it, and their swings."""
        begin = min(-(-self.first // BLOCK), self.last // BLOCK + 1)
        end = max(begin, self.last // BLOCK)
        first = min(begin * BLOCK, self.last) - self.first
        if begin == end:
            return first, first, np.empty(0, dtype=np.float32)
        swings = summary.largest_swing(np.float32(self.rest), begin, end)
        return first, end * BLOCK - self.first, swings

    def _largest_of(self, start: int, end: int) -> float:
        return max((float(swing.max()) for _, swing in self.between(start, end)), default=0.0)

    def between(self, start: int, end: int) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield the parts of a part of the stretch."""
        for part in self.channel.blocks(first=self.first + start, last=self.first + end):
            swing = np.abs(part - np.float32(self.rest))
            yield start, np.nan_to_num(swing, copy=False, nan=0.0, posinf=0.0)
            start += part.size

    def first_above(self, start: int, end: int, level: float) -> int:
        """Return the first sample of a part of the stretch that reaches a level."""
        for begin, swing in self.between(start, end):
            reached = swing >= level
            if reached.any():
                return begin + int(np.argmax(reached))
        return start


def _bursts(
    parts: _Swing, floor: float, within: float
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float32]]:
    """Return where bursts above a floor begin and end, and how high they reach.

    Zero crossings of the ringing do not end a burst: `within` so many samples it goes on.
    """
    starts: list[NDArray[np.int64]] = []
    ends: list[NDArray[np.int64]] = []
    heights: list[NDArray[np.float32]] = []
    for begin, swing in parts.reaching(floor):
        above = np.flatnonzero(swing > floor)
        if above.size == 0:
            continue
        breaks = np.diff(above) > within
        start = above[np.concatenate(([True], breaks))]
        end = above[np.concatenate((breaks, [True]))] + 1
        edges = np.ravel((start, end), "F")
        height = np.maximum.reduceat(np.append(swing, np.float32(0.0)), edges)[::2]
        start, end = start + begin, end + begin
        if ends and start[0] - (ends[-1][-1] - 1) <= within:
            # the burst of the part before goes on
            ends[-1][-1] = end[0]
            heights[-1][-1] = max(heights[-1][-1], height[0])
            start, end, height = start[1:], end[1:], height[1:]
        if start.size:
            starts.append(start)
            ends.append(end)
            heights.append(height)
    none = np.empty(0, dtype=np.int64)
    return (
        np.concatenate([none, *starts]),
        np.concatenate([none, *ends]),
        np.concatenate([np.empty(0, dtype=np.float32), *heights]),
    )


def _rest_and_floors(
    values: NDArray[np.float32],
) -> tuple[float, float, float, float | None]:
    """Return the resting level, how far noise and the converter's steps reach, the high share."""
    some = values[np.isfinite(values)].astype(np.float64)
    if some.size == 0:
        return 0.0, 0.0, 0.0, None
    high_share = _high_share(some)
    of_rest = some
    if high_share is not None and abs(high_share - 0.5) <= _NEAR_HALF:
        of_rest = some[some < (some.min() + some.max()) / 2]
    rest = float(np.median(of_rest))
    noise = 1.4826 * float(np.median(np.abs(of_rest - rest)))
    steps = np.diff(np.unique(some))
    step = float(steps.min()) if steps.size else 0.0
    return rest, _NOISE_TIMES * noise, _STEPS * step, high_share


def _high_share(some: Floats) -> float | None:
    """Return how much of the time a signal of two levels is high; None for any other signal."""
    low, high = np.quantile(some, _LEVELS_AT)
    within = _LEVEL_WITHIN * (high - low)
    at_levels = (np.abs(some - low) < within) | (np.abs(some - high) < within)
    # a pick-up at rest flickers between two levels too, far below its pulses
    if not high - low > _LEAST_OF_ALL * np.ptp(some) or at_levels.mean() < _MOSTLY_AT_LEVELS:
        return None
    return float(np.mean(some > (low + high) / 2))


def _strongest_apart(times_s: Floats, heights: Floats) -> NDArray[np.bool_]:
    """Leave out what comes within `_APART_S` of something stronger; times rise."""
    keep = np.ones(times_s.size, dtype=bool)
    # only neighbours are looked at: a noisy channel has hundreds of thousands of bursts
    first = np.searchsorted(times_s, times_s - 2 * _APART_S)
    last = np.searchsorted(times_s, times_s + 2 * _APART_S)
    for i in np.argsort(-heights, kind="stable"):
        if keep[i]:
            near = slice(first[i], last[i])
            keep[near] &= np.abs(times_s[near] - times_s[i]) >= _APART_S
            keep[i] = True
    return keep
