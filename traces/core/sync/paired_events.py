"""Events that come every 360 degrees, at first or perhaps throughout.

Single coils fire in pairs until the control unit has recognised the cam, and then each on its
own. Which of the two places of the cycle goes on is the cylinder's own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.sync.pulses import Pulses
from traces.core.waveform import Floats

_LEAST_PAIRED = 3
"""Events in a row, at both places in turn, that make pairs."""

_CERTAIN = 2
"""Events in a row that have to stay away: a single one may have been missed."""

_MAY_BE_MISSED = 0.02
"""Chance that all those which stayed away were only missed, over which nothing is certain."""

_TWICE = 2

_NO_LEAK = 0.45
"""Share of an own event over which nothing leaks in."""

_SPIKE = 1.5
"""How much higher than the next the highest event may be and still count as one."""

_SCATTERED = 0.25
"""Standard deviation of the logarithms of heights from which a recorder is too slow for the events:
of one spark and the next they differ by less."""

_NOT_BY_CHANCE = 1.645
"""Standard deviations of a sum of ranks: one in twenty by chance."""

_AS_HIGH = 0.4  # of the usual height: what leaks in comes at 10 to 30 %
_LEAST_HEIGHT = 0.1  # of the highest: lower ones are not found
_LEAST_SPREAD = 0.2
_ALIKE_LOG, _AWAY_LOG = 0.6, 1.0  # of the ratio of heights
_CLEARLY = 3.0  # standard deviations
_CUT_OFF = 0.06
"""Cycles: an event due so shortly before the end may have been cut off."""


@dataclass(frozen=True, slots=True, eq=False)
class TwoPlaces:
    """Pulses at two places of the cycle, half a cycle apart.

    Parameters
    ----------
    rows
        Which pulses come at `place`, and which half a cycle later.
    place
        In cycles.
    seen_to
        Until when events would show, in cycles.
    """

    rows: tuple[NDArray[np.int64], NDArray[np.int64]]
    place: float
    seen_to: float


@dataclass(frozen=True, slots=True)
class Turned:
    """Pairs that turned single.

    Parameters
    ----------
    goes_on
        The place whose events go on, 0 or 1.
    paired_to_s
        When the other place's last event came.
    single_from_s
        When the first one after it that did not come was due.
    away
        How many were surely due and did not come.
    """

    goes_on: int
    paired_to_s: float
    single_from_s: float
    away: int

    @property
    def is_certain(self) -> bool:
        """Whether more stayed away than may have been missed."""
        return self.away >= _CERTAIN


def turned_single(pulses: Pulses, counted: Floats, both: TwoPlaces) -> Turned | None:
    """Find events that come in pairs at first and singly afterwards.

    Heights at both places are compared as logarithms, in the order in which they are due: alike
    at first, and later one place's lower than all others by more than chance makes of so many.

    Parameters
    ----------
    counted
        Engine cycles passed at each pulse.

    Returns
    -------
    Turned or None
        None where there is no such change.
    """
    if min(row.size for row in both.rows) < 1:
        return None
    due = [
        2 * np.rint(counted[row] - both.place - 0.5 * i).astype(np.int64) + i
        for i, row in enumerate(both.rows)
    ]
    last = int(np.floor(2 * (both.seen_to - _CUT_OFF - both.place)))
    last = max(last, *(int(slots[-1]) for slots in due))
    start = min(int(slots[0]) for slots in due)
    heights = np.zeros(last - start + 1)
    for row, slots in zip(both.rows, due, strict=True):
        heights[slots - start] = pulses.heights[row]
    came = np.flatnonzero(heights > _AS_HIGH * _usual(heights))
    # what is missing at the beginning says nothing of what comes later
    first = start + int(came[0])
    heights = heights[came[0] :]
    if heights.size < _TWICE:
        return None
    least = _LEAST_HEIGHT * float(pulses.heights.max())
    split, away = _split(np.log(np.maximum(heights, least)))
    if away and _by_chance(heights, split) > _MAY_BE_MISSED:
        away = 1  # as little as one tells where every event is clear
    if not away:
        split, away = _runs_out(heights > _AS_HIGH * _usual(heights)), 1
    if not split:
        return None
    slots = np.concatenate(due)
    times_s = pulses.times_s[np.concatenate(both.rows)]
    order = np.argsort(slots)
    slot = first + split
    ended = times_s[(slots < slot) & (slots % 2 == slot % 2)]
    return Turned(
        goes_on=(slot + 1) % 2,
        paired_to_s=float(ended.max()),
        single_from_s=float(np.interp(slot, slots[order], times_s[order])),
        away=away,
    )


def perhaps_both(pulses: Pulses, counted: Floats, both: TwoPlaces) -> NDArray[np.int64] | None:
    """Return pulses of the second place where they may be events of the same kind as the first.

    A slow recorder misses many events of a short ringing and catches the others anywhere in it,
    so that heights scatter and tell less than their ranks do: what leaks in, and what stayed
    away, is lower than the others by more than chance makes of so many (Mann and Whitney, Ann.
    Math. Statist. 18, 1947). Where it is not, all at the second place may only have been missed,
    and none of them need be clear.

    Returns
    -------
    NDArray or None
        None where the events are of the first place alone.
    """
    own, heights = both.rows[0], pulses.heights
    lower = own.size < _TWICE or _are_lower(heights, counted, both)
    clear = _clear(heights, both)
    if clear.size < _TWICE:
        return None if lower or not _is_slow(heights[own], counted[own]) else clear[:0]
    no_leaks = _second_highest(heights[clear]) > _NO_LEAK * _highest(heights[own])
    return clear if no_leaks or not lower else None


def _clear(heights: Floats, both: TwoPlaces) -> NDArray[np.int64]:
    """Return pulses of the second place that stand over all that leaks in."""
    own, between = both.rows
    if min(own.size, between.size) < _TWICE:
        return between[:0]
    # what leaks in from one cylinder is no higher than what leaks in from others
    leaks = float(np.delete(heights, np.append(own, between)).max(initial=0.0))
    leaks = min(leaks, _NO_LEAK * _highest(heights[own]))
    return between[heights[between] > max(_NO_LEAK * float(np.median(heights[own])), leaks)]


def _is_slow(heights: Floats, counted: Floats) -> bool:
    """Return whether events were missed, or caught anywhere in their ringing."""
    missed = int(np.rint(np.ptp(counted))) + 1 > heights.size
    return missed or float(np.std(np.log(heights))) > _SCATTERED


def _are_lower(heights: Floats, counted: Floats, both: TwoPlaces) -> bool:
    """Return whether pulses at the second place, those missed too, are lower than by chance."""
    cycles = 1 + int(np.floor(np.ptp(counted[np.concatenate(both.rows)])))
    own, between = (np.pad(heights[r], (0, max(0, cycles - r.size))) for r in both.rows)
    higher = own[:, None] - between[None, :]
    wins = float(np.count_nonzero(higher > 0) + np.count_nonzero(higher == 0) / 2)
    pairs = own.size * between.size
    spread = float(np.sqrt(pairs * (own.size + between.size + 1) / 12))
    return wins - pairs / 2 > _NOT_BY_CHANCE * spread


def _highest(heights: Floats) -> float:
    """Return the highest, a lone spike held near the second."""
    return min(float(heights.max()), _SPIKE * _second_highest(heights))


def _second_highest(heights: Floats) -> float:
    return float(np.partition(heights, -2)[-2]) if heights.size >= _TWICE else 0.0


def _split(logs: Floats) -> tuple[int, int]:
    """Return from which event on every other one stays away, and how many; 0 where none do."""
    found, clearest = (0, 0), _CLEARLY
    for split in range(_LEAST_PAIRED, logs.size - 1):
        paired, away, others = logs[:split], logs[split::2], logs[split + 1 :: 2]
        halves = (float(paired[::2].mean()), float(paired[1::2].mean()))
        present = np.concatenate((paired, others))
        spread = max(_LEAST_SPREAD, float(np.std(present)))
        lower = float(present.mean() - away.mean())
        goes_on = float(others.mean()) > float(paired.mean()) - _ALIKE_LOG
        beyond_chance = lower / (spread * np.sqrt(1 / away.size + 1 / present.size))
        alike = abs(halves[0] - halves[1]) < _ALIKE_LOG
        if goes_on and alike and lower > _AWAY_LOG and beyond_chance > clearest:
            found, clearest = (split, away.size), beyond_chance
    return found


def _by_chance(heights: Floats, split: int) -> float:
    """Return how likely so many as stayed away from `split` on were only missed.

    A slow recorder catches a short ringing anywhere: then some of those that came are no higher.
    """
    away = heights[split::2]
    came = np.concatenate((heights[:split], heights[split + 1 :: 2]))
    as_low = np.count_nonzero(came <= away.max())
    chance = float(((as_low + 0.5) / (came.size + 1)) ** away.size)
    # where some are, the clearest of many places to split at is clear by chance too
    return chance * (heights.size - _LEAST_PAIRED - 1 if as_low else 1)


def _runs_out(came: NDArray[np.bool_]) -> int:
    """Return from which event on every other one seems to stay away; 0 where none does.

    Where a slow recorder makes heights scatter, this is all that can be said.
    """
    for split in range(_LEAST_PAIRED, came.size - 1):
        paired, away, others = came[:split], came[split::2], came[split + 1 :: 2]
        both = min(int(paired[::2].sum()), int(paired[1::2].sum())) >= _TWICE
        if both and away.size >= _CERTAIN and not away.any() and others.any():
            return split
    return 0


def _usual(heights: Floats) -> float:
    """Return the usual height of what stands out; a lone spike counts little."""
    second = float(np.partition(heights, -2)[-2])
    return float(np.median(heights[heights > _AS_HIGH * second]))
