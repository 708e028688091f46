"""Events of the sync channel, and how they tie engine cycles to a cylinder."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from traces.core.sync.event_rhythm import STRONG_SHARE, drifts, has_two_rhythms, is_one_step
from traces.core.sync.paired_events import TwoPlaces, perhaps_both, turned_single
from traces.core.sync.pulses import Pulses
from traces.core.waveform import Floats

SyncState: TypeAlias = Literal[
    "none", "missing", "scattered", "crowded", "doubled", "every-360", "every-720"
]
Trouble: TypeAlias = Literal["", "lone", "drift", "two-rhythms"]

_OWN_SHARE = 0.6  # of the height of the strongest group, or of its cycles: no leak
_LEAST_OWN, _CLEAR_OF_LEAKS = 0.2, 1.8  # of the energy of the first place, and of what leaks in
_LONE_SPIKE_WEIGHT = 0.25
_FAR_HIGHER = 2.0
_FEW = 4

_GROUP_CYCLES = 0.04  # pulses within so much of a cycle (29 degrees) belong together
_SCATTER_CYCLES = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Sync:
    """What the sync channel says.

    Parameters
    ----------
    state
        `none`: not recorded. `missing`: fewer than two events. `scattered`: events do not
        keep to the engine's cycle. `crowded`: as strong at more than two places of the cycle.
        `doubled`: they come every 360 degrees all through, although set up as every 720.
        `every-360`, `every-720`: how often they really come.
    events_s
        Times of the sync cylinder's events, in the file's own time.
    residual_cycles
        Spread of the events about their place in the cycle.
    by_hand
        Whether a person marked the events; then nothing says that the cycle was counted right.
    others_cycles
        Of a cam: how far after each event its other edges come, in engine cycles.
    paired_to_s
        Up to when events came every 360 degrees that come every 720 afterwards, as of single coils
        that fire in pairs until the cam is recognised; None where they never did.
    perhaps_single_from_s
        When the first event failed to come of some that came every 360 degrees before, where it is
        one alone, so that the others may or may not come every 720 degrees from there on.
    perhaps_every_turn
        Whether a recorder too slow for the events may have caught some half a cycle away as well,
        or missed them there: nothing tells whether they come every 360 or every 720 degrees.
    trouble
        Why events are `missing` or `scattered`, where that can be told.
    """

    state: SyncState
    events_s: Floats
    residual_cycles: float = 0.0
    by_hand: bool = False
    others_cycles: tuple[float, ...] = ()
    paired_to_s: float | None = None
    perhaps_single_from_s: float | None = None
    perhaps_every_turn: bool = False
    trouble: Trouble = ""

    @property
    def places(self) -> int:
        """At how many places of the cycle events of the same kind come."""
        return 1 + len(self.others_cycles)

    @property
    def keeps_to_cycle(self) -> bool:
        """Whether the events keep to the engine's cycle, so that its angle can be counted."""
        return self.state in ("every-360", "every-720")


NO_SYNC = Sync("none", np.empty(0))


def read_sync(
    pulses: Pulses,
    times_s: Floats,
    cycle_count: Floats,
    *,
    several: bool = False,
    seen_to_s: float | None = None,
) -> Sync:
    """Sort pulses by their place in the engine cycle and keep the sync cylinder's own.

    Parameters
    ----------
    pulses
        From `find_pulses`.
    times_s, cycle_count
        Engine cycles passed at each time, from the current; same shape.
    several
        Whether there may be events at several places of the cycle, as of a cam's edges: then
        those after the longest pause count.
    seen_to_s
        Until when events would show; None where that is not known.
    """
    if pulses.times_s.size < 2:
        return Sync("missing", pulses.times_s, trouble="lone" if pulses.times_s.size else "")
    energies = pulses.energies()
    uncorrected = np.interp(pulses.times_s, times_s, cycle_count)
    counted = _without_slip(uncorrected, energies)
    seen_to_s = float(pulses.times_s[-1]) if seen_to_s is None else seen_to_s
    seen_to = float(np.interp(seen_to_s, times_s, cycle_count)) + counted[-1] - uncorrected[-1]
    return _sorted_out(pulses, counted, uncorrected, several=several, seen_to=seen_to)


def _sorted_out(
    pulses: Pulses, counted: Floats, uncorrected: Floats, *, several: bool, seen_to: float
) -> Sync:
    """Keep the sync cylinder's own events by their place, with and without the slow slip."""
    energies = pulses.energies()
    first, *others = _places(counted % 1.0, energies)
    at_first = _once_a_cycle(counted, first.place, energies)
    second = _as_strong(pulses, counted, at_first, first, others)
    if len(second) > 1 or (
        second and _apart(second[0].place, first.place + 0.5) > 1.5 * _GROUP_CYCLES
    ):
        if several:
            return _several_places(pulses, counted, [first, *second])
        return _crowded(pulses, counted, at_first)
    # a cycle's halves need not last equally long, and an event missed so would seem to stay away
    half = first.place + 0.5
    near = [p.place for p in others if _apart(p.place, half) <= 1.5 * _GROUP_CYCLES]
    at_second = _once_a_cycle(counted, near[0] if near else half, energies)
    both = TwoPlaces((at_first, at_second), first.place, seen_to)
    own = _own_events(pulses, counted, both, is_as_strong=bool(second))
    return _held_against_the_cycle(pulses, counted, uncorrected, own)


@dataclass(frozen=True, slots=True, eq=False)
class _OwnEvents:
    """Which pulses are the sync cylinder's, and from which place of the cycle they count."""

    at: NDArray[np.int64]
    at_first: NDArray[np.int64]
    place: float
    is_doubled: bool = False
    perhaps_every_turn: bool = False
    paired_to_s: float | None = None
    perhaps_single_from_s: float | None = None


def _own_events(
    pulses: Pulses, counted: Floats, both: TwoPlaces, *, is_as_strong: bool
) -> _OwnEvents:
    """Choose between the events of one place, of both, and of pairs that turn single."""
    at_first, at_second = both.rows
    turned = turned_single(pulses, counted, both)
    if turned and turned.is_certain:
        at = both.rows[turned.goes_on]
        return _OwnEvents(at, at, float(counted[at[0]]), paired_to_s=turned.paired_to_s)
    added = at_second if is_as_strong else perhaps_both(pulses, counted, both)
    if added is None:
        return _OwnEvents(at_first, at_first, both.place)
    return _OwnEvents(
        np.sort(np.append(at_first, added)),
        at_first,
        both.place,
        is_doubled=True,
        perhaps_every_turn=not is_as_strong,
        perhaps_single_from_s=turned.single_from_s if turned else None,
    )


def _held_against_the_cycle(
    pulses: Pulses, counted: Floats, uncorrected: Floats, own: _OwnEvents
) -> Sync:
    """Return the events, or why they do not keep to the cycle."""
    events_s = pulses.times_s[own.at]
    if own.at.size < 2:
        return Sync("missing", events_s, trouble="lone")
    spread = _spread(counted[own.at_first])
    a_cycle = 2 if own.at.size > own.at_first.size else 1
    steps = np.diff(np.rint(a_cycle * (counted[own.at] - own.place)).astype(np.int64))
    # some may be missed, but events that only ever come at every other place do not fit
    off_beat = own.at.size > 2 and int(np.gcd.reduce(steps)) != 1
    trouble: Trouble = "two-rhythms" if has_two_rhythms(pulses, uncorrected) else ""
    if spread > _SCATTER_CYCLES or off_beat or trouble:
        return Sync("scattered", events_s, spread, trouble=trouble)
    if drifts(uncorrected[own.at] - counted[own.at], uncorrected[own.at]):
        return Sync("scattered", events_s, spread, trouble="drift")
    return Sync(
        "every-360" if own.is_doubled else "every-720",
        events_s,
        spread,
        paired_to_s=own.paired_to_s,
        perhaps_single_from_s=own.perhaps_single_from_s,
        perhaps_every_turn=own.perhaps_every_turn,
    )


def _crowded(pulses: Pulses, counted: Floats, at_first: NDArray[np.int64]) -> Sync:
    """Tell events that contradict the engine's cycle from a few that say nothing.

    Where nearly all were missed, what is left of one cylinder's and what leaks in from others
    stand at several places in no rhythm; or all that leaks in beside the only one of its own.
    """
    highest = int(np.argmax(pulses.heights))
    next_highest = float(np.partition(pulses.heights, -2)[-2])
    if pulses.heights[highest] > _FAR_HIGHER * next_highest:
        return Sync("missing", pulses.times_s[highest : highest + 1], trouble="lone")
    strong = np.flatnonzero(pulses.heights > STRONG_SHARE * next_highest)
    if strong.size <= _FEW and not is_one_step(np.diff(counted[strong])):
        return Sync("missing", pulses.times_s[at_first])
    return Sync("crowded", pulses.times_s[at_first])


def _several_places(pulses: Pulses, counted: Floats, places: "list[_Place]") -> Sync:
    """Keep the events after the longest pause, and how far after them the others come."""
    at = np.sort([p.place % 1.0 for p in places])
    first = float(at[np.argmax((at - np.roll(at, 1)) % 1.0)])
    energies = pulses.energies()
    rows = [_once_a_cycle(counted, float(place), energies) for place in at]
    own = rows[int(np.flatnonzero(at == first)[0])]
    spread = max(_spread(counted[row]) for row in rows)
    most = max(row.size for row in rows)
    # each edge comes in every cycle, but for one or two cut off at the ends
    if min(row.size for row in rows) < max(2, most - 2) or spread > _SCATTER_CYCLES:
        return Sync("crowded", pulses.times_s[own])
    others = tuple(float((place - first) % 1.0) for place in at if place != first)
    return Sync("every-720", pulses.times_s[own], spread, others_cycles=others)


def _as_strong(
    pulses: Pulses,
    counted: Floats,
    own: NDArray[np.int64],
    first: "_Place",
    others: "list[_Place]",
) -> "list[_Place]":
    """Return the places that are as strong as the first; what leaks in is not.

    A slow recorder catches the ringing anywhere, so that heights of one and the same event differ
    fourfold and energies sixteenfold: a place of less energy is as strong where it stands clear of
    all that leak in, at half a cycle or, where the cycle was taken twice too long, at quarters.
    """
    strong = [p for p in others if p.strength >= _OWN_SHARE**2 * first.strength]
    weaker = strong and len(others) > 1 and strong[0].strength < _OWN_SHARE * first.strength
    if strong and not (weaker and others[1].strength > 0.5 * others[0].strength):
        return strong
    quarters = [p for p in others if _apart(4 * p.place, 4 * first.place) <= 4 * _GROUP_CYCLES]
    opposite = [p for p in quarters if _apart(p.place, first.place + 0.5) <= _GROUP_CYCLES]
    for few in (quarters, opposite):
        beside = max((p.strength for p in others if p not in few), default=0.0)
        least = max(_LEAST_OWN * first.strength, _CLEAR_OF_LEAKS * beside)
        clear = [p for p in few if p.strength >= least and _is_as_high(pulses, counted, own, p)]
        if len(clear) > 1 or (clear and few is opposite):
            return clear
    return []  # one of many that leak in, and no stronger than the next


def _is_as_high(pulses: Pulses, counted: Floats, own: NDArray[np.int64], other: "_Place") -> bool:
    """Return whether the pulses of a place come in most cycles, and about as high as the own."""
    most, usual = float(pulses.heights[own].max()), float(pulses.heights[own].mean())
    heights = pulses.heights[_once_a_cycle(counted, other.place, pulses.energies())]
    heights = np.minimum(heights, most)
    return heights.size >= _OWN_SHARE * own.size and float(heights.mean()) > STRONG_SHARE * usual


def _once_a_cycle(counted: Floats, place: float, energies: Floats) -> NDArray[np.int64]:
    """Return the strongest pulse near a place in each cycle, in order of time."""
    near = np.flatnonzero(_in_one_place(counted, place))
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
        return _LONE_SPIKE_WEIGHT * float(energies[0])
    return float(np.minimum(energies, 4.0 * np.partition(energies, -2)[-2]).sum())


def _without_slip(counted: Floats, energies: Floats) -> Floats:
    """Take out a slow slip between the count of cycles and the strongest pulses.

    The count comes from neighbouring cycles only, so that a long capture adds up small errors.
    """
    own = _in_one_place(counted, _places(counted % 1.0, energies)[0].place)
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


def _in_one_place(counted: Floats, place: float) -> NDArray[np.bool_]:
    return np.asarray(_all_apart(counted % 1.0, place) <= _GROUP_CYCLES)
