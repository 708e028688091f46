"""Events of the sync channel, and how they tie engine cycles to a cylinder."""

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
_OWN_SHARE = 0.6  # of the strongest group: a second group this strong is no leak
_APART_S = 0.012  # ringing after one event ends sooner; 16 cylinders at 450 rpm are 17 ms apart
_GROUP_CYCLES = 0.04  # pulses within so much of a cycle (29 degrees) belong together
_SCATTER_CYCLES = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Pulses:
    """Candidate events: when and how strong (volts or shares above the resting level)."""

    times_s: Floats
    heights: Floats


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
    values = channel.values[first:last].astype(np.float64)
    if values.size < 8:
        return Pulses(np.empty(0), np.empty(0))
    rest = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
    swing = np.nan_to_num(np.abs(values - rest), nan=0.0, posinf=0.0)
    noise = 1.4826 * float(np.median(swing))
    floor = max(_NOISE_TIMES * noise, _LEAST_SHARE * float(swing.max()), 1e-12)
    edges = _edges(values, rest) if _is_two_level(values) else None
    if edges is not None:
        at = edges
        heights = np.ones(at.size)
    else:
        at, found = signal.find_peaks(
            np.pad(swing, 1),
            height=floor,
            distance=max(1, int(_APART_S * waveform.rate_hz)),
        )
        at, heights = at - 1, found["peak_heights"]
    return Pulses(waveform.t0_s + (first + at) / waveform.rate_hz, np.asarray(heights))


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
    counted = _without_slip(np.interp(pulses.times_s, times_s, cycle_count), pulses.heights)
    first, *others = _places(counted % 1.0, pulses.heights)
    others = [p for p in others if p.strength >= _OWN_SHARE * first.strength]
    own = _near(counted, first.place)
    crowded = len(others) > 1 or (
        others and _apart(others[0].place, first.place + 0.5) > 1.5 * _GROUP_CYCLES
    )
    if crowded:
        return Sync("crowded", pulses.times_s[own])
    spread = _spread(counted[own])
    apart = np.diff(counted[own])
    if others:
        own = own | _near(counted, others[0].place)
    events_s = pulses.times_s[own]
    if events_s.size < 2:
        return Sync("missing", events_s)
    if spread > _SCATTER_CYCLES or _is_off_beat(apart):
        return Sync("scattered", events_s, spread)
    return Sync("every-360" if others else "every-720", events_s, spread)


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


def _is_two_level(values: Floats) -> bool:
    """Return whether the channel is a switch: nearly all samples at one of two levels."""
    low, high = np.nanmin(values), np.nanmax(values)
    reach = 0.2 * (high - low)
    if not reach > 0:
        return False
    up, down = values > high - reach, values < low + reach
    return bool(up.mean() > 0.05 and down.mean() > 0.05 and (up | down).mean() > 0.97)


def _edges(values: Floats, rest: float) -> NDArray[np.int64]:
    """Return where a switch leaves its resting level."""
    middle = (np.nanmin(values) + np.nanmax(values)) / 2
    away = (values > middle) != (rest > middle)
    return np.flatnonzero(np.diff(away.astype(np.int8)) > 0) + 1


@dataclass(frozen=True, slots=True)
class _Place:
    """Where in the cycle pulses gather, and how strong they are together."""

    place: float
    strength: float


def _places(places: Floats, heights: Floats) -> list[_Place]:
    """Group pulses by their place in the cycle, strongest first.

    Narrow pulses are caught between samples and vary; a spike may stand alone. So a group
    counts with the sum of its heights, none above twice the group's middle one.
    """
    left = np.ones(places.size, dtype=bool)
    found: list[_Place] = []
    while left.any():
        near = _all_apart(places[left][:, None], places[left][None, :]) <= _GROUP_CYCLES
        sums = np.array([_strength(heights[left][row]) for row in near])
        around = np.flatnonzero(left)[near[int(np.argmax(sums))]]
        turned = np.exp(2j * np.pi * places[around])
        place = float(np.angle(np.sum(heights[around] * turned)) / (2 * np.pi)) % 1.0
        group = left & (_all_apart(places, place) <= _GROUP_CYCLES)
        group[around] = True
        found.append(_Place(place, _strength(heights[group])))
        left &= ~group
    return sorted(found, key=lambda p: -p.strength)


def _strength(heights: Floats) -> float:
    return float(np.minimum(heights, 2.0 * np.median(heights)).sum())


def _without_slip(counted: Floats, heights: Floats) -> Floats:
    """Take out a slow slip between the count of cycles and the strongest pulses.

    The count comes from neighbouring cycles only, so that a long capture adds up small errors.
    """
    own = _near(counted, _places(counted % 1.0, heights)[0].place)
    if own.sum() < 4:
        return counted
    place = float(np.angle(np.exp(2j * np.pi * counted[own]).mean())) / (2 * np.pi)
    off = counted[own] - place
    slope, _ = np.polyfit(counted[own], off - np.rint(off), 1)
    slipped = float(slope) * (counted - counted[own].mean())
    return np.asarray(counted - slipped, dtype=np.float64)


def _is_off_beat(apart: Floats) -> bool:
    """Return whether events of one kind do not come once a cycle."""
    return apart.size > 0 and abs(float(np.median(apart)) - 1.0) > _GROUP_CYCLES


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
