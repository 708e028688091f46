"""The tooth wheel of a crank sensor, from the times its teeth pass.

A missing tooth shows as an interval of twice its neighbours, two as three times. Between them
the speed changes smoothly, even where a compression halves it, so an interval is held against the
geometric mean of the one before and the one after. Gaps come back once a turn: that gives the
number of teeth.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.conditioning import Floats
from traces.core.setup import ToothWheel

_GAP_FROM = 1.5
_ALIKE_GAPS = 1.6  # largest over smallest where all gaps are of one kind
_MOST_MISSING = 4
_LEAST_TEETH, _MOST_TEETH = 4, 400
_MOST_GAPS = 4.5  # in a turn
_FITS = 0.9
_STANDSTILL_S = 0.25
_AROUND_S = 0.3
_LEAST_RATE = 0.6  # of the usual: slower is the start, or coasting to a stop
_MOST_RATE = 1.8  # faster is the engine running, or noise at rest


@dataclass(frozen=True, slots=True, eq=False)
class ToothTrack:
    """Where the crank stood when.

    Parameters
    ----------
    times_s
        Of edges, shape (edges,).
    angle_deg
        Crank angle at each, rising from 0 at the first, shape (edges,).
    teeth, missing
        The wheel: places in a turn, missing ones counted in, and how many are missing.
    doubt
        How unlike each other the gaps are, turn by turn; 0 where they are the same.
    """

    times_s: Floats
    angle_deg: Floats
    teeth: int
    missing: int
    doubt: float

    @property
    def speeds_deg_s(self) -> Floats:
        """Mean speed between edges, shape (edges - 1,)."""
        return np.asarray(np.diff(self.angle_deg) / np.diff(self.times_s), dtype=np.float64)


class WheelError(ValueError):
    """The edges fit no wheel; the text says what was seen, as part of a sentence."""


def clearest_track(edges: Sequence[Floats], told: ToothWheel) -> ToothTrack:
    """Tie whichever edges make the clearer wheel to crank angle; see `track_of`.

    Raises
    ------
    WheelError
        If neither make one.
    """
    tracks: list[ToothTrack] = []
    errors: list[WheelError] = []
    for times_s in edges:
        try:
            tracks.append(track_of(times_s, told))
        except WheelError as error:
            errors.append(error)
    if not tracks:
        raise errors[0]
    return min(tracks, key=lambda track: track.doubt)


def track_of(times_s: Floats, told: ToothWheel) -> ToothTrack:
    """Tie edges to crank angle.

    Parameters
    ----------
    times_s
        Rising, shape (edges,).
    told
        What the person knows of the wheel.

    Raises
    ------
    WheelError
        If the edges do not fit a wheel, or there is no gap and nobody says how many teeth.
    """
    times_s = _turning(times_s)
    if times_s.size < 2 * _LEAST_TEETH:
        raise WheelError("fewer than eight teeth pass")
    steps, spread = _steps(np.diff(times_s), told)
    places = np.concatenate(([0], np.cumsum(steps)))
    gaps = np.flatnonzero(steps > 1)
    teeth = told.teeth or _teeth(places, steps, gaps)
    agreed = _agreement(places, steps, gaps, teeth)[0] if gaps.size > 1 else 1.0
    if told.teeth and agreed < _FITS:
        raise WheelError(f"their gaps do not come back after {teeth} teeth")
    if places[-1] < teeth:
        raise WheelError("less than a turn is recorded")
    angle_deg = places * 360.0 / teeth
    missing = _missing(places, steps, gaps, teeth)
    return ToothTrack(times_s, angle_deg, teeth, missing, doubt=spread + 1 - agreed)


def _turning(times_s: Floats) -> Floats:
    """Return the longest stretch in which edges come at their usual rate: no start, no coasting."""
    if times_s.size < 2 * _LEAST_TEETH:
        return times_s
    passed = np.arange(times_s.size, dtype=np.float64)
    reach = np.array([-_AROUND_S / 2, _AROUND_S / 2])
    ends_s = np.clip(times_s[:, None] + reach, times_s[0], times_s[-1])
    counts = np.interp(ends_s, times_s, passed)
    rates = np.diff(counts, axis=1)[:, 0] / np.diff(ends_s, axis=1)[:, 0]
    usual = float(np.median(rates))
    unlike = (rates < _LEAST_RATE * usual) | (rates > _MOST_RATE * usual)
    still = np.concatenate((np.diff(times_s) > _STANDSTILL_S, [False]))
    broken = np.flatnonzero(unlike | still)
    starts = np.concatenate(([0], broken + 1))
    ends = np.concatenate((broken, [times_s.size]))
    best = int(np.argmax(ends - starts))
    return times_s[starts[best] : ends[best]]


def _steps(intervals_s: Floats, told: ToothWheel) -> tuple[NDArray[np.int64], float]:
    """Return how many tooth widths each interval spans, and how unlike the gaps are."""
    logs = np.log(intervals_s)
    around = np.empty(logs.size)
    around[1:-1] = (logs[:-2] + logs[2:]) / 2
    around[0], around[-1] = logs[1], logs[-2]
    ratios = np.exp(logs - around)
    steps = np.ones(logs.size, dtype=np.int64)
    if told.missing == 0:
        return steps, 0.0
    # beside a gap the neighbour itself looks short: only what stands above both is a gap
    high = ratios > _GAP_FROM
    high[1:] &= logs[1:] > logs[:-1]
    high[:-1] &= logs[:-1] > logs[1:]
    gaps = np.flatnonzero(high)
    if gaps.size == 0:
        return steps, 0.0
    sizes = ratios[gaps]
    inner = sizes[(gaps > 0) & (gaps < logs.size - 1)]
    if inner.size and float(np.quantile(inner, 0.9) / np.quantile(inner, 0.1)) < _ALIKE_GAPS:
        sizes = np.full(gaps.size, float(np.median(inner)))
    steps[gaps] = np.clip(np.rint(sizes), 2, _MOST_MISSING + 1).astype(np.int64)
    return steps, float(np.std(np.log(ratios[gaps] / steps[gaps])))


def _teeth(places: NDArray[np.int64], steps: NDArray[np.int64], gaps: NDArray[np.int64]) -> int:
    """Return after how many places the gaps come back."""
    if gaps.size < 2:
        raise WheelError("no gap comes back, so the number of teeth must be entered")
    best: tuple[float, int] | None = None
    for teeth in range(_LEAST_TEETH, min(_MOST_TEETH, int(places[-1])) + 1):
        if gaps.size * teeth / max(int(places[-1]), 1) > _MOST_GAPS:
            break  # more teeth make more gaps in a turn
        share, checked = _agreement(places, steps, gaps, teeth)
        if checked < 1 or share < _FITS:
            continue
        if best is None or share > best[0] + 0.02:
            best = share, teeth
    if best is None:
        raise WheelError("their gaps follow no pattern")
    return best[1]


def _agreement(
    places: NDArray[np.int64], steps: NDArray[np.int64], gaps: NDArray[np.int64], teeth: int
) -> tuple[float, int]:
    """Return the share of gaps that have their like a turn before and after, of how many."""
    at = {int(places[g]): int(steps[g]) for g in gaps}
    first, last = int(places[0]), int(places[-1])
    good = checked = 0
    for place, size in at.items():
        for other in (place - teeth, place + teeth):
            if first <= other and other + size <= last:
                checked += 1
                good += at.get(other) == size
    return (good / checked if checked else 0.0), checked


def _missing(
    places: NDArray[np.int64], steps: NDArray[np.int64], gaps: NDArray[np.int64], teeth: int
) -> int:
    """Return how many teeth are missing in a turn: of the gaps that come back most times."""
    turns = max(1.0, (places[-1] - places[0]) / teeth)
    sizes: dict[int, list[int]] = {}
    for gap in gaps:
        sizes.setdefault(int(places[gap]) % teeth, []).append(int(steps[gap]) - 1)
    return sum(round(float(np.median(s))) for s in sizes.values() if len(s) > turns / 2 - 0.5)
