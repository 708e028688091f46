"""Which channel is the clamp, which the sync and which the battery, by what they show together."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal, TypeAlias

import numpy as np

from traces.core.plain_json import Decimals, PlainJson
from traces.core.proposal.channel_traits import Course, Train, course_of, train_of
from traces.core.setup import SyncEvery
from traces.core.waveform import Channel, Conditioned, Floats, Waveform

Shows: TypeAlias = Literal["current", "voltage", "pulses", "teeth", "pressure", "nothing", "other"]

_LONGEST_S = 6 * 3600.0
_MOST_CHANNELS = 32
_QUIET = 0.4
"""Of what the humps swing: what the low-pass takes away from a current is less."""

_SWINGS = (0.03, 4.0)
_TONE = 0.25
_BATTERY_V = (5.0, 32.0)
_SAG = (0.4, 0.99)
"""Of the level at rest: what is left of a battery's voltage while it cranks."""

_MOST_RIPPLE = 0.3
_APART_S = (0.11, 2.0)  # once in 720 degrees at 60 rpm, once in 360 at 500 rpm and some slack
_SHARP, _SHARP_ENOUGH = 0.35, 0.6
_MOST_AWAY = 0.45
_STEADY = 0.15
_TEETH_NOISE = 1.2
_WINDOW_S = 0.01
"""Ringing and injectors end sooner; the window of a cam wheel lasts longer (common practice)."""

_SOME, _LEAST_LEVELS = 4000, 12
"""Counters and switches of a log know few values; a current in eight bits knows more."""

_LEAST_HUMPS = 5.0
"""Of a current whose start is not in the file; one cylinder's pressure shows fewer so soon."""

LINES = 64
_POINTS = 4 * LINES
NOTHING_KNOWN: Mapping[int, Shows] = MappingProxyType({})
_REGULAR = 0.3


@dataclass(frozen=True, slots=True)
class ClampSeen(PlainJson):
    """A channel that draws a crank as a current does.

    Parameters
    ----------
    channel
        Index in the file.
    sure
        Whether no other channel could be it, and its rest is in the file.
    level, inrush
        Median over the crank above rest, and the peak of the inrush, as volts at the clamp
        (amperes where the file says so); no inrush where the start is not in the file.
    inverted
        Whether cranking is drawn downwards.
    hump_hz
        How often it rises and falls.
    """

    channel: int
    sure: bool
    level: Annotated[float, Decimals(6)]
    inrush: Annotated[float, Decimals(6)] | None
    inverted: bool
    hump_hz: Annotated[float, Decimals(2)]


@dataclass(frozen=True, slots=True)
class BatterySeen(PlainJson):
    """A channel that sags as a battery does: its level at rest, and in the crank, in volts."""

    channel: int
    sure: bool
    rest_v: Annotated[float, Decimals(2)] | None
    level_v: Annotated[float, Decimals(2)]


@dataclass(frozen=True, slots=True)
class SyncSeen(PlainJson):
    """A channel with short, regular pulses while the engine cranks.

    Parameters
    ----------
    sure
        Whether no other channel could be it.
    count, apart_s, lasts_s
        How many, how far apart and how long they are.
    is_window
        Whether they last as long as a cam wheel's window.
    lines
        Power of the current at 1, 2, … times in two pulses' time; empty without a clamp.
    every_deg
        How often they come, where teeth beside them tell it.
    """

    channel: int
    sure: bool
    count: int
    apart_s: Annotated[float, Decimals(4)]
    lasts_s: Annotated[float, Decimals(4)]
    is_window: bool
    lines: tuple[Annotated[float, Decimals(6)], ...] = ()
    every_deg: SyncEvery | None = None


@dataclass(frozen=True, slots=True)
class PressureSeen(PlainJson):
    """A channel that shows the compressions of one cylinder.

    Parameters
    ----------
    towers, rpm
        How many follow each other, and the crank's speed.
    height
        Of one over the level between, in the channel's unit.
    """

    channel: int
    towers: int
    rpm: Annotated[float, Decimals(1)]
    height: Annotated[float, Decimals(6)]


@dataclass(frozen=True, slots=True)
class ChannelRoles(PlainJson):
    """What the channels of a file show, and which part each may play."""

    shows: tuple[Shows, ...]
    clamp: ClampSeen | None = None
    battery: BatterySeen | None = None
    sync: SyncSeen | None = None
    teeth: int | None = None
    running: int | None = None
    """The crank sensor of an idling engine."""
    pressure: PressureSeen | None = None
    """A transducer in place of one plug."""


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """One channel with what it shows."""

    at: int
    channel: Channel
    course: Course | None
    shows: Shows
    rank: float = 0.0


def roles_of(waveform: Waveform, known: Mapping[int, Shows] = NOTHING_KNOWN) -> ChannelRoles:
    """Say what each channel shows, by its samples alone, and which part it may play.

    Names, units and places are not asked, but for amperes: who says so knows. Nothing is named
    that does not show; long and wide recordings get no answer, because it would take too long.

    Parameters
    ----------
    waveform
        Any recording; only one with a crank in it gets parts.
    known
        What some channels show by another look at them, by index; they get no part here.
    """
    channels = waveform.channels
    if not 0 < waveform.duration_s <= _LONGEST_S or len(channels) > _MOST_CHANNELS:
        return ChannelRoles(tuple("other" for _ in channels))
    seen = [
        _Seen(i, channel, None, known[i]) if i in known else _look(waveform, i, channel)
        for i, channel in enumerate(channels)
    ]
    currents = sorted((s for s in seen if s.shows == "current"), key=lambda s: -s.rank)
    voltages = sorted((s for s in seen if s.shows == "voltage"), key=lambda s: -s.rank)
    if not currents and len(voltages) > 1:
        # two alike in a file that begins in mid-crank: the livelier may be the clamp
        currents, voltages = voltages[-1:], voltages[:-1]
    clamp = currents[0] if currents else None
    battery = voltages[0] if voltages else None
    lead = clamp or battery
    course = lead.course if lead else None
    if course is None:
        return ChannelRoles(tuple(s.shows for s in seen), teeth=_first(seen, "teeth"))
    from_s, to_s = course.span.from_s, course.span.to_s
    trains: list[tuple[int, Train]] = []
    shows = [s.shows for s in seen]
    for s in seen:
        if s.shows in ("current", "voltage", "nothing", "pressure"):
            continue
        train = train_of(waveform, s.channel, from_s, to_s)
        if train is not None and _may_sync(train):
            shows[s.at] = "pulses"
            trains.append((s.at, train))
    trains.sort(key=lambda found: _sync_rank(found[1]))
    return ChannelRoles(
        shows=tuple(shows),
        clamp=_clamp_seen(clamp, only=len(currents) == 1) if clamp else None,
        battery=_battery_seen(battery, only=len(voltages) == 1) if battery else None,
        sync=_sync_seen(*trains[0], only=len(trains) == 1, clamp=clamp) if trains else None,
        teeth=next((i for i, what in enumerate(shows) if what == "teeth"), None),
    )


def _look(waveform: Waveform, at: int, channel: Channel) -> _Seen:
    course = course_of(waveform, channel)
    if course is None:
        empty = channel.is_flat() or not channel.holds(2)
        return _Seen(at, channel, None, "nothing" if empty else "other")
    noise = course.conditioned.noise_a / max(course.swing, 1e-12)
    lively = course.swing / max(abs(course.span.level_a), 1e-12)
    draws = (
        noise < _QUIET
        and _SWINGS[0] < lively < _SWINGS[1]
        and course.tone > _TONE
        and course.span.level_a > 0
        and not _switches(waveform, channel, course)
        and np.unique(channel.sampled(_SOME)).size >= _LEAST_LEVELS
    )
    if draws:
        is_volts = (channel.unit or "").casefold() not in ("a", "ma") and _sags(course)
        if not is_volts and not course.span.start_seen and _humps(course) < _LEAST_HUMPS:
            return _Seen(at, channel, course, "other")
        return _Seen(at, channel, course, "voltage" if is_volts else "current", _rank(course))
    teeth = noise > _TEETH_NOISE and _is_busy(channel)
    return _Seen(at, channel, course, "teeth" if teeth else "other")


def _humps(course: Course) -> float:
    """Return how often a channel rises and falls while it is drawn."""
    return course.hump_hz * (course.span.to_s - course.span.settled_from_s)


def _rank(course: Course) -> float:
    """Return how much a course is like a crank's: a rest, an inrush, humps that keep a rhythm."""
    inrush = course.span.inrush_peak_a
    stood = inrush is not None and 1.4 < inrush / course.span.level_a < 12
    return course.tone + (1.0 if course.span.start_seen else 0.0) + (1.0 if stood else 0.0)


def _sags(course: Course) -> bool:
    rest, level = course.rest, course.level
    if rest is None:
        alone = _BATTERY_V[0] < abs(level) < _BATTERY_V[1]
        return alone and course.swing / abs(level) < _MOST_RIPPLE
    left = level / rest if rest else 0.0
    return _BATTERY_V[0] < abs(rest) < _BATTERY_V[1] and _SAG[0] < left < _SAG[1]


def _switches(waveform: Waveform, channel: Channel, course: Course) -> bool:
    """Return whether a channel only switches between two levels, as no current does."""
    train = train_of(waveform, channel, course.span.settled_from_s, course.span.to_s)
    return train is not None and train.pulses.high_share is not None and train.sharp > _SHARP_ENOUGH


def _is_busy(channel: Channel) -> bool:
    """Return whether a channel is away from its middle most of the time."""
    some = channel.sampled(20_000).astype(np.float64)
    some = some[np.isfinite(some)]
    away = np.abs(some - np.median(some))
    return bool(np.mean(away > 0.3 * np.quantile(away, 0.99)) > 0.35) and not _is_noise(some)


def _is_noise(some: Floats) -> bool:
    """Return whether a channel's values lie as chance lays them, most in the middle."""
    away = np.abs(some - np.median(some))
    middle = float(np.median(away)) or 1e-12
    return 1.9 < float(np.quantile(away, 0.9)) / middle < 3.2


def _may_sync(train: Train) -> bool:
    return (
        train.sharp > _SHARP
        and train.share < _MOST_AWAY
        and _APART_S[0] < train.apart_s < _APART_S[1]
        and train.steadiness < _STEADY
    )


def _sync_rank(train: Train) -> tuple[bool, float]:
    # windows of a cam need an angle, so that ringing comes first
    return (train.lasts_s > _WINDOW_S, train.steadiness)


def _clamp_seen(seen: _Seen, *, only: bool) -> ClampSeen:
    course = seen.course
    assert course is not None  # noqa: S101 - only those with a course are chosen
    span = course.span
    return ClampSeen(
        channel=seen.at,
        sure=only and span.start_seen and seen.shows == "current",
        level=span.level_a,
        inrush=span.inrush_peak_a,
        inverted=course.conditioned.inverted,
        hump_hz=course.hump_hz,
    )


def _battery_seen(seen: _Seen, *, only: bool) -> BatterySeen:
    course = seen.course
    assert course is not None  # noqa: S101 - only those with a course are chosen
    return BatterySeen(seen.at, only and course.rest is not None, course.rest, course.level)


def _sync_seen(at: int, train: Train, *, only: bool, clamp: _Seen | None) -> SyncSeen:
    return SyncSeen(
        channel=at,
        sure=only,
        count=train.strong_s.size,
        apart_s=train.apart_s,
        lasts_s=train.lasts_s,
        is_window=train.lasts_s > _WINDOW_S,
        lines=_lines_between(clamp.course.conditioned, train) if clamp and clamp.course else (),
    )


def _lines_between(conditioned: Conditioned, train: Train) -> tuple[float, ...]:
    """Return the power of a current at 1, 2, … times in the time of two pulses, over the largest.

    Told by the pulses themselves, so that a speed that changes does not smear them.
    """
    times_s = train.strong_s
    regular = np.abs(np.diff(times_s) / train.apart_s - 1) < _REGULAR
    grid_s = conditioned.times_s
    powers = []
    for i in range(times_s.size - 2):
        if not (regular[i] and regular[i + 1]):
            continue
        at_s = np.interp(np.arange(_POINTS) / (_POINTS / 2), (0.0, 1.0, 2.0), times_s[i : i + 3])
        part = np.interp(at_s, grid_s, conditioned.current_a)
        part = part - np.linspace(part[0], part[-1], part.size)
        powers.append(np.abs(np.fft.rfft(part)[1 : LINES + 1]) ** 2)
    if not powers:
        return ()
    mean = np.mean(powers, axis=0)
    most = float(mean.max())
    return tuple(float(p) / most for p in mean) if most > 0 else ()


def _first(seen: list[_Seen], what: Shows) -> int | None:
    return next((s.at for s in seen if s.shows == what), None)
