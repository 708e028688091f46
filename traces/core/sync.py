"""Events of the sync channel, and how they tie engine cycles to a cylinder."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from traces.core.conditioning import Floats
from traces.core.pulses import Pulses

SyncState: TypeAlias = Literal["none", "missing", "scattered", "crowded", "every-360", "every-720"]

_OWN_SHARE = 0.6  # of the height of the strongest group: a second this strong is no leak
_LONE = 0.25
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
        `every-360`, `every-720`: how often they really come.
    events_s
        Times of the sync cylinder's events, in the file's own time.
    residual_cycles
        Spread of the events about their place in the cycle.
    by_hand
        Whether a person marked the events; then nothing says that the cycle was counted right.
    others_cycles
        Of a cam: how far after each event its other edges come, in engine cycles.
    """

    state: SyncState
    events_s: Floats
    residual_cycles: float = 0.0
    by_hand: bool = False
    others_cycles: tuple[float, ...] = ()

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
    pulses: Pulses, times_s: Floats, cycle_count: Floats, *, several: bool = False
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
        if several:
            return _several_places(pulses, counted, [first, *second])
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
