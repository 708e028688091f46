"""What a wheel is like, learnt from the times its teeth pass: its gaps, or one tooth more.

A missing tooth makes an interval of about twice those around it, two make one of three times;
each gap is sized by itself. Gaps come back in the same sequence turn by turn, or several times a
turn where the wheel has equal sectors: then its edges alone do not tell how many make a turn.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform import Floats

_GAP_FROM = 1.5
_MOST_MISSING = 5
_MOST_GAPS = 4  # in a sector
_ROUNDS = 4
_COME_BACK = 0.6  # of gaps: edges that are no teeth spoil some
_LEAST_PLACES, _MOST_PLACES = 4, 400
_MOST_BARE = 0.26  # of the places
_WHOLE_WITHIN = 0.25  # logarithm: how near an interval, put together again, comes to its neighbours
_LIKE_EACH_SIDE = 0.35
_FEWEST_ADDITIONAL = 3
_USUAL = (6, 8, 12, 18, 24, 30, 32, 36, 48, 60, 72, 90, 120)
_LIKELIEST = 5
_ALIKE = 0.3
_OFTENEST = 2
_FEWEST_WIDTHS = 16
_CODED_JUMP, _CODED_SHARE = 0.2, 0.1


@dataclass(frozen=True, slots=True)
class WheelPattern:
    """The smallest part of a wheel that comes back.

    Parameters
    ----------
    steps
        Places from each tooth to the next; they add up to the part's places. Fractions stand
        before and after an additional tooth.
    gaps
        Missing teeth of each gap, in order.
    additional
        Whether one tooth stands between two others.
    """

    steps: tuple[float, ...]
    gaps: tuple[int, ...]
    additional: bool = False

    @property
    def places(self) -> int:
        """Places of the part."""
        return round(sum(self.steps))

    def named(self, sectors: int = 1) -> str:
        """Return the pattern as it is written: 36-2-1-1, 12+1."""
        if self.additional:
            return f"{self.places}+1"
        return "-".join(map(str, (self.places * sectors, *self.gaps * sectors)))


def without_additional(times_s: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Return edges without those that stand between two teeth, and which ones stood there.

    Taken out they leave an interval like its neighbours on both sides.
    """
    logs = np.log(np.diff(times_s))
    if logs.size < 4:
        return times_s, np.empty(0, dtype=np.int64)
    together = np.log(times_s[3:-1] - times_s[1:-3])
    around = (logs[:-3] + logs[3:]) / 2
    uneven = np.abs(together - around)
    side = np.maximum(np.abs(together - logs[:-3]), np.abs(together - logs[3:]))
    between = (uneven < _WHOLE_WITHIN) & (side < _LIKE_EACH_SIDE)
    # so that of a regular tooth and an additional one only the latter is taken out
    found = [
        i
        for i in np.flatnonzero(between).tolist()
        if uneven[i] <= min(uneven[max(0, i - 1)], uneven[min(uneven.size - 1, i + 1)])
    ]
    at = np.array(found, dtype=np.int64) + 2
    return np.delete(times_s, at), at


def steps_of(times_s: Floats) -> NDArray[np.int64]:
    """Return how many places each interval spans, by the intervals around it."""
    logs = np.log(np.diff(times_s))
    steps = np.ones(logs.size, dtype=np.int64)
    if logs.size < 5:
        return steps
    for turn in range(_ROUNDS):
        paces = logs - np.log(steps)
        reach = 2 if turn == 0 else 1
        ratios = np.exp(logs - _around(paces, reach))
        sized = np.clip(np.rint(ratios), 1, _MOST_MISSING + 1).astype(np.int64)
        found = np.where(ratios > _GAP_FROM, np.maximum(sized, 2), 1)
        if turn and (found == steps).all():
            break
        steps = found
    return steps


def _around(paces: Floats, reach: int) -> Floats:
    """Return the middle of the paces before and after each; of four, two tell what one cannot."""
    padded = np.pad(paces, reach, mode="reflect")
    sides = [padded[reach + k : reach + k + paces.size] for k in range(-reach, reach + 1) if k != 0]
    return np.asarray(np.median(sides, axis=0), dtype=np.float64)


def patterns_of_gaps(steps: NDArray[np.int64]) -> Iterator[WheelPattern]:
    """Yield sequences of gaps that come back, those of few gaps first.

    Edges that are no teeth and teeth without an edge spoil some, so that the sequences seen
    most often are yielded and not only one that is seen all the time.
    """
    gaps = np.flatnonzero(steps > 1)
    # teeth without a gap before each gap, and how many are missing in it
    runs = [
        (int(last - first) - 1, int(steps[last]) - 1) for first, last in pairwise(gaps.tolist())
    ]
    for count in range(1, _MOST_GAPS + 1):
        windows = Counter(
            _turned_first(tuple(runs[i : i + count])) for i in range(len(runs) - count + 1)
        )
        for sector, often in windows.most_common(_OFTENEST):
            pattern = _pattern_of(sector)
            if often > 1:
                yield from (one for one in (pattern, *_nearly(pattern)) if _is_wheel(one))


def _pattern_of(sector: tuple[tuple[int, int], ...]) -> WheelPattern:
    made = [step for run, missing in sector for step in (*[1.0] * run, missing + 1.0)]
    return WheelPattern(tuple(made), tuple(missing for _, missing in sector))


def _is_wheel(pattern: WheelPattern) -> bool:
    places, missing = pattern.places, sum(pattern.gaps)
    return _LEAST_PLACES <= places <= _MOST_PLACES and missing <= _MOST_BARE * places


def _nearly(pattern: WheelPattern) -> Iterator[WheelPattern]:
    """Yield the same with gaps a tooth smaller or larger, where that makes a usual wheel.

    The swing of speed makes a gap at its slowest place look larger than it is.
    """
    if is_usual(pattern.places):
        return
    for more in (-1, 1, -2):
        for size in (*sorted(set(pattern.gaps)), None):
            steps = tuple(
                step + more if step > 1 and size in (None, step - 1) else step
                for step in pattern.steps
            )
            gaps = tuple(gap + more if size in (None, gap) else gap for gap in pattern.gaps)
            if min(gaps) >= 1 and is_usual(round(sum(steps))):
                yield WheelPattern(steps, gaps)


def is_usual(places: int) -> bool:
    """Return whether wheels, or equal sectors of them, have so many places (common practice)."""
    return places in _USUAL


def single_gaps(times_s: Floats) -> Iterator[WheelPattern]:
    """Yield usual wheels of one gap whose number of teeth is that after which edges are alike.

    Where few teeth pass between two compressions, intervals differ too much from their
    neighbours to see a gap by itself, and not from those a turn before.
    """
    logs = np.log(np.diff(times_s))
    bent = logs[1:-1] - (logs[:-2] + logs[2:]) / 2
    bent = bent - bent.mean()
    if bent.size < 2 * _LEAST_PLACES or not bent.any():
        return
    found: list[tuple[float, int, int]] = []
    for places in _USUAL:
        for missing in (1, 2, 3):
            teeth = places - missing
            if missing > _MOST_BARE * places or 2 * teeth > bent.size:
                continue
            likeness = float(np.corrcoef(bent[:-teeth], bent[teeth:])[0, 1])
            found.append((likeness, places, missing))
    found.sort(reverse=True)
    for likeness, places, missing in found[:_LIKELIEST]:
        if likeness > _ALIKE:
            steps = (*[1.0] * (places - missing - 1), missing + 1.0)
            yield WheelPattern(steps, (missing,))


def single_additional(times_s: Floats) -> Iterator[WheelPattern]:
    """Yield usual wheels of one tooth more whose edges are alike from turn to turn.

    As with single gaps: a swing of speed hides the tooth from its neighbours, not from the turn
    before.
    """
    logs = np.log(np.diff(times_s))
    bent = logs[1:-1] - (logs[:-2] + logs[2:]) / 2
    bent = bent - bent.mean()
    if not bent.any():
        return
    found: list[tuple[float, int]] = []
    for places in _USUAL:
        edges = places + 1
        if 2 * edges <= bent.size:
            found.append((float(np.corrcoef(bent[:-edges], bent[edges:])[0, 1]), places))
    found.sort(reverse=True)
    for likeness, places in found[:_LIKELIEST]:
        if likeness > _ALIKE:
            yield _with_tooth_between(times_s, places)


def _with_tooth_between(times_s: Floats, places: int) -> WheelPattern:
    """Return a wheel of so many places with one tooth more where edges stand closest."""
    edges = places + 1
    apart = np.diff(times_s)
    together, whole = apart[1:-2] + apart[2:-1], (apart[:-3] + apart[3:]) / 2
    off = np.abs(np.log(together / whole))
    at = min(range(edges), key=lambda first: float(np.median(off[first::edges])))
    share = float(np.median((apart[1:-2] / together)[at::edges]))
    return WheelPattern((*[1.0] * (places - 1), share, 1.0 - share), (), additional=True)


def _turned_first(runs: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    """Return the same sequence begun where it is largest, so that turned ones are equal."""
    return max(
        (runs[i:] + runs[:i] for i in range(len(runs))),
        key=lambda turned: ([missing for _, missing in turned], turned),
    )


def pattern_with_additional(times_s: Floats, at: NDArray[np.int64]) -> WheelPattern | None:
    """Return a wheel with one tooth more, None where those between come back in no pattern.

    Parameters
    ----------
    times_s
        All edges.
    at
        Which of them stand between two teeth.
    """
    if at.size < _FEWEST_ADDITIONAL:
        return None
    # between two additional teeth each interval counts once, the additional tooth's two parts too
    apart = Counter(np.diff(at).tolist())
    edges, often = apart.most_common(1)[0]
    if often < max(2, _COME_BACK * (at.size - 1)) or edges - 1 < _LEAST_PLACES:
        return None
    if often * edges < _COME_BACK * times_s.size - 2 * edges:
        return None  # here and there: edges that are no teeth
    before = times_s[at] - times_s[at - 1]
    after = times_s[at + 1] - times_s[at]
    share = float(np.median(before / (before + after)))
    return WheelPattern((*[1.0] * (edges - 2), share, 1.0 - share), (), additional=True)


def widths_are_coded(rising_s: Floats, falling_s: Floats) -> bool:
    """Return whether one side's edges come evenly while teeth are wide and narrow in turn."""
    for edges_s, others_s in ((rising_s, falling_s), (falling_s, rising_s)):
        if edges_s.size < _FEWEST_WIDTHS or not others_s.size or (steps_of(edges_s) > 1).any():
            continue
        after = np.searchsorted(others_s, edges_s[:-1], side="right")
        whole = after < others_s.size
        off_s = others_s[np.minimum(after, others_s.size - 1)] - edges_s[:-1]
        shares = (off_s / np.diff(edges_s))[whole]
        # a width that is the same in time changes smoothly with the speed, a code does not
        jumps = np.abs(np.diff(shares)) > _CODED_JUMP
        if jumps.mean() > _CODED_SHARE:
            return True
    return False
