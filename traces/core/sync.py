"""Events of the sync channel, and how they tie engine cycles to a cylinder."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from traces.core.conditioning import Floats
from traces.core.waveform import Channel, Waveform

SyncState: TypeAlias = Literal["none", "missing", "scattered", "crowded", "every-360", "every-720"]

_NOISE_TIMES = 8.0  # a pulse stands this many standard deviations above the channel's noise
_LEAST_SHARE = 0.10  # neighbours leak in at 10 to 30 % (from the trial's recordings)
_OWN_SHARE = 0.6  # of the height of the strongest group: a second this strong is no leak
_LONE = 0.25
_APART_S = 0.012  # ringing after one event ends sooner; 16 cylinders at 450 rpm are 17 ms apart
_GROUP_CYCLES = 0.04  # pulses within so much of a cycle (29 degrees) belong together
_SCATTER_CYCLES = 0.02
_FOR_PERIODS = 24
_FOR_BEATS = 40
_PERIODS_S = np.exp(np.arange(np.log(0.12), np.log(1.9), 0.004))  # 360 degrees to 720
_PERIOD_WITHIN = 0.02
_WITHIN_S = 0.004  # half a period of the slowest ringing
_STEPS = 2.5  # of the converter: the last bit flickers
_ENOUGH_SAMPLES = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Pulses:
    """Candidate events: when and how strong (volts or shares above the resting level)."""

    times_s: Floats
    heights: Floats

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
        peaks = signal.find_peaks(np.pad(likely, 1))[0] - 1
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


@dataclass(frozen=True, slots=True, eq=False)
class Sync:
    """What the sync channel says.

    Parameters
    ----------
    state
        `none`: not recorded. `missing`: fewer than two events. `scattered`: events do not
        keep to the engine's cycle. `crowded`: as strong at more than two places of the cycle.
        `every-360`, `every-720`: how often they really come.
    events_s
        Times of the sync cylinder's events, in the file's own time.
    residual_cycles
        Spread of the events about their place in the cycle.
    """

    state: SyncState
    events_s: Floats
    residual_cycles: float = 0.0


NO_SYNC = Sync("none", np.empty(0))


def find_pulses(waveform: Waveform, channel: Channel, from_s: float, to_s: float) -> Pulses:
    """Find everything that stands out of the sync channel, up or down.

    A pulse, a burst of ringing or the window of a cam wheel is one event: it comes when the
    signal first reaches half of its height.

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
    rest, noise_floor, step_floor = _rest_and_floors(
        channel.sampled(_ENOUGH_SAMPLES, first=first, last=last)
    )
    parts = _Swing(channel, first, last, rest)
    largest = max(float(swing.max()) for _, swing in parts)
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
    return Pulses(times_s, np.asarray(heights[keep], dtype=np.float64))


@dataclass(frozen=True, slots=True, eq=False)
class _Swing:
    """How far a stretch of a channel stands from its rest, part by part; gaps are rest."""

    channel: Channel
    first: int
    last: int
    rest: float

    def __iter__(self) -> Iterator[tuple[int, NDArray[np.float32]]]:
        """Yield where each part begins in the stretch, and the part."""
        return self.between(0, self.last - self.first)

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
    for begin, swing in parts:
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


def _rest_and_floors(values: NDArray[np.float32]) -> tuple[float, float, float]:
    """Return the resting level, and how far noise and the converter's steps reach from it."""
    some = values[np.isfinite(values)].astype(np.float64)
    if some.size == 0:
        return 0.0, 0.0, 0.0
    rest = float(np.median(some))
    noise = 1.4826 * float(np.median(np.abs(some - rest)))
    steps = np.diff(np.unique(some))
    step = float(steps.min()) if steps.size else 0.0
    return rest, _NOISE_TIMES * noise, _STEPS * step


def _strongest_apart(times_s: Floats, heights: Floats) -> NDArray[np.bool_]:
    """Leave out what comes within `_APART_S` of something stronger."""
    keep = np.ones(times_s.size, dtype=bool)
    for i in np.argsort(-heights, kind="stable"):
        if keep[i]:
            keep &= (np.abs(times_s - times_s[i]) >= _APART_S) | (np.arange(keep.size) == i)
    return keep


def read_sync(pulses: Pulses, times_s: Floats, cycle_count: Floats) -> Sync:
    """Sort pulses by their place in the engine cycle and keep the sync cylinder's own.

    Parameters
    ----------
    pulses
        From `find_pulses`.
    times_s, cycle_count
        Engine cycles passed at each time, from the current; same shape.
    """
    if pulses.times_s.size < 2:
        return Sync("missing", pulses.times_s)
    energies = pulses.energies()
    counted = _without_slip(np.interp(pulses.times_s, times_s, cycle_count), energies)
    first, *others = _places(counted % 1.0, energies)
    second = _second(first, others)
    at_first = _once_a_cycle(counted, first.place, energies)
    if len(second) > 1 or (
        second and _apart(second[0].place, first.place + 0.5) > 1.5 * _GROUP_CYCLES
    ):
        return Sync("crowded", pulses.times_s[at_first])
    own = at_first
    if second:
        own = np.sort(np.append(own, _once_a_cycle(counted, second[0].place, energies)))
    if own.size < 2:
        return Sync("missing", pulses.times_s[own])
    spread = _spread(counted[at_first])
    per_cycle = 2 if second else 1
    steps = np.diff(np.rint(per_cycle * (counted[own] - first.place)).astype(np.int64))
    # some may be missed, but events that only ever come at every other place do not fit
    off_beat = own.size > 2 and int(np.gcd.reduce(steps)) != 1
    if spread > _SCATTER_CYCLES or off_beat:
        return Sync("scattered", pulses.times_s[own], spread)
    return Sync("every-360" if second else "every-720", pulses.times_s[own], spread)


def _second(first: "_Place", others: "list[_Place]") -> "list[_Place]":
    """Return the places that are as strong as the first; what leaks in is not."""
    strong = [p for p in others if p.strength >= _OWN_SHARE**2 * first.strength]
    weaker = strong and len(others) > 1 and strong[0].strength < _OWN_SHARE * first.strength
    if weaker and others[1].strength > 0.5 * others[0].strength:
        return []  # one of many that leak in, and no stronger than the next
    return strong


def _once_a_cycle(counted: Floats, place: float, energies: Floats) -> NDArray[np.int64]:
    """Return the strongest pulse near a place in each cycle, in order of time."""
    near = np.flatnonzero(_near(counted, place))
    cycle = np.rint(counted[near] - place).astype(np.int64)
    by_strength = near[np.lexsort((-energies[near], cycle))]
    _, first = np.unique(np.sort(cycle), return_index=True)
    return np.asarray(np.sort(by_strength[first]), dtype=np.int64)


def anchored_count(
    sync: Sync, times_s: Floats, cycle_count: Floats, degree: int = 2
) -> tuple[Floats, Floats]:
    """Shift and stretch the count of cycles so that events fall on whole or half cycles.

    Returns
    -------
    tuple of Floats
        The count at `times_s`, and at the events how far each still is from its place.
    """
    per_cycle = 2.0 if sync.state == "every-360" else 1.0
    counted = np.interp(sync.events_s, times_s, cycle_count)
    folded = np.exp(2j * np.pi * per_cycle * counted)
    place = float(np.angle(folded.mean())) / (2 * np.pi * per_cycle)
    off = (counted - place) * per_cycle
    off = (off - np.rint(off)) / per_cycle + place
    if per_cycle == 2.0:
        # half cycles of the same engine need not be alike: one mean for both kinds
        degree = 0
    degree = min(degree, max(0, (off.size - 1) // 2))
    centre = float(sync.events_s.mean())
    shape = np.polynomial.Polynomial.fit(sync.events_s - centre, off, degree)
    inside = np.clip(times_s, sync.events_s[0], sync.events_s[-1])
    count = cycle_count - np.asarray(shape(inside - centre), dtype=np.float64)
    return count, off - np.asarray(shape(sync.events_s - centre), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in the cycle pulses gather, and how strong they are together."""

    place: float
    strength: float


def _places(places: Floats, energies: Floats) -> list[_Place]:
    """Group pulses by their place in the cycle, strongest first."""
    left = np.ones(places.size, dtype=bool)
    found: list[_Place] = []
    near = _all_apart(places[:, None], places[None, :]) <= _GROUP_CYCLES
    while left.any():
        sums = np.where(left, (near & left) @ energies, -1.0)
        around = np.flatnonzero(near[int(np.argmax(sums))] & left)
        turned = np.exp(2j * np.pi * places[around])
        place = float(np.angle(np.sum(energies[around] * turned)) / (2 * np.pi)) % 1.0
        group = left & (_all_apart(places, place) <= _GROUP_CYCLES)
        group[around] = True
        found.append(_Place(place, _strength(energies[group])))
        left &= ~group
    return sorted(found, key=lambda p: -p.strength)


def _strength(energies: Floats) -> float:
    """Add up a group's energy; a spike that stands alone in it counts little."""
    if energies.size == 1:
        return _LONE * float(energies[0])
    return float(np.minimum(energies, 4.0 * np.partition(energies, -2)[-2]).sum())


def _without_slip(counted: Floats, energies: Floats) -> Floats:
    """Take out a slow slip between the count of cycles and the strongest pulses.

    The count comes from neighbouring cycles only, so that a long capture adds up small errors.
    """
    own = _near(counted, _places(counted % 1.0, energies)[0].place)
    if own.sum() < 4:
        return counted
    place = float(np.angle(np.exp(2j * np.pi * counted[own]).mean())) / (2 * np.pi)
    off = counted[own] - place
    slope, _ = np.polyfit(counted[own], off - np.rint(off), 1)
    slipped = float(slope) * (counted - counted[own].mean())
    return np.asarray(counted - slipped, dtype=np.float64)


def _spread(counted: Floats) -> float:
    """Return the standard deviation of places in the cycle, in cycles."""
    turned = np.exp(2j * np.pi * counted)
    return float(np.std(np.angle(turned / turned.mean()))) / (2 * np.pi)


def _apart(one: float, other: float) -> float:
    return abs((one - other + 0.5) % 1.0 - 0.5)


def _all_apart(places: Floats, other: float | Floats) -> Floats:
    return np.asarray(np.abs((places - other + 0.5) % 1.0 - 0.5), dtype=np.float64)


def _near(counted: Floats, place: float) -> NDArray[np.bool_]:
    return np.asarray(_all_apart(counted % 1.0, place) <= _GROUP_CYCLES)
