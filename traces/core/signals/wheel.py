"""The tooth wheel of a crank sensor, from the times its teeth pass.

What the wheel is like is learnt from the edges or entered (`wheel_pattern`), how many equal
sectors make a turn is decided (`wheel_sectors`), each edge is laid on its tooth
(`tooth_alignment`); what is left is when the crank stood where.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from engines.core.firing import FiringOrder
from shopdiag.people.core.words import say
from traces.core.crank import FASTEST_RPM
from traces.core.setup import ToothWheel
from traces.core.signals.tooth_alignment import Alignment, align, align_each
from traces.core.signals.wheel_error import WheelError
from traces.core.signals.wheel_pattern import (
    WheelPattern,
    is_usual,
    pattern_with_additional,
    patterns_of_gaps,
    single_additional,
    single_gaps,
    steps_of,
    widths_are_coded,
    without_additional,
)
from traces.core.signals.wheel_sectors import OnceACycle, running_sectors_of, sectors_of
from traces.core.waveform import Floats

__all__ = ["OnceACycle", "ToothTrack", "WheelError", "clearest_track", "track_of"]

Fit: TypeAlias = tuple[WheelPattern, Alignment]

_NO_GAP = say("no gap comes back, so the number of teeth must be entered")
_LEAST_EDGES = 8
_STANDSTILL_S = 0.25
_AROUND_S = 0.3
_LEAST_RATE = 0.75  # of the usual: slower is the start, or coasting to a stop
_MOST_RATE = 1.8  # faster is the engine running, or noise at rest
_MOST_RATE_AND_RAN = 1.3
_ROUGHEST_LEARNT, _ROUGHEST_OF_MANY = 5.0, 4.0
_ROUGHEST = 12.0  # cost of an alignment; of random edges about 16
_MOST_PASSED_OVER = 0.05
_LEAST_CRANKED_TURNS = 1.5
_MOST_EDGES = 30_000
_ALIKE = 1.4  # times the least doubt
_GAP_WIDTH = 1.5  # teeth
_AS_GOOD, _WORSE_A_TURN = 1.3, 4.0  # of the cost; in all of a turn
_SAVED_BY_A_GAP = 10.0  # of the cost in a turn; taken for one tooth it costs about 40
_ANY_TEETH = 4
_USUAL_GAP = 2
_MOST_GAPS_OF_ANY = 2
_CHOSEN_BY = 900  # edges
_UNUSUAL_TIMES, _UNUSUAL = 1.5, 0.3
_TOO_SLOW, _SLOW_RPM = 1.0, 90.0
_DOUBT_A_GAP, _DOUBT_SEEN_ONCE = 0.1, 1.0  # in the alignment's cost


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
        How rough the speed is that the edges make: of two tracks the lower is the clearer.
    pattern
        The wheel as it is written: 36-2-1-1, 12+1; the number of teeth where it has no gap.
    ran
        Whether the engine ran in the recording, in a part that is left out here.
    """

    times_s: Floats
    angle_deg: Floats
    teeth: int
    missing: int
    doubt: float
    pattern: str = ""
    ran: bool = False

    @property
    def gap_spread(self) -> float:
        """How unlike each other the gaps are beside their neighbours; 0 without gaps."""
        widths = np.diff(self.angle_deg)
        paces = np.log(np.diff(self.times_s) / widths)
        bent = paces[1:-1] - (paces[:-2] + paces[2:]) / 2
        gaps = widths[1:-1] > _GAP_WIDTH * 360.0 / self.teeth
        return float(bent[gaps].std()) if gaps.any() else 0.0

    @property
    def usual_rpm(self) -> float:
        """Speed of most turns: a slow start and a fast end count little."""
        turns = np.arange(0.0, self.angle_deg[-1], 360.0)
        at_s = np.interp(turns, self.angle_deg, self.times_s)
        if at_s.size < 2:
            return float(self.angle_deg[-1] / (self.times_s[-1] - self.times_s[0]) / 6.0)
        return float(np.median(60.0 / np.diff(at_s)))

    @property
    def speeds_deg_s(self) -> Floats:
        """Mean speed between edges, shape (edges - 1,)."""
        return np.asarray(np.diff(self.angle_deg) / np.diff(self.times_s), dtype=np.float64)


def clearest_track(
    edges: Sequence[Floats],
    told: ToothWheel,
    order: FiringOrder | None = None,
    beside: OnceACycle | None = None,
    *,
    running: bool = False,
) -> ToothTrack:
    """Tie whichever edges make the clearer wheel to crank angle; see `track_of`.

    Raises
    ------
    WheelError
        If neither make one.
    """
    tracks: list[ToothTrack] = []
    errors: list[WheelError] = []
    # what one side shows well may be hard to see on the other
    shared = tuple(pattern for times_s in edges for pattern in _learnt(_turning(times_s), told))
    for times_s in edges:
        try:
            tracks.append(track_of(times_s, told, order, shared, beside, running=running))
        except WheelError as error:
            errors.append(error)
    if not tracks:
        if told.teeth is None and len(edges) == 2 and widths_are_coded(*edges):
            raise WheelError(
                say(
                    "they stand at even distances and are wide and narrow in turn, a code "
                    "that is not read; the number of teeth must be entered"
                )
            )
        raise max(errors, key=lambda error: error.weight)
    clearest = min(tracks, key=lambda track: track.doubt)
    # where both sides make the same wheel, one of a coil's has nothing to hold it in the gap
    alike = [
        track
        for track in tracks
        if track.pattern == clearest.pattern and track.doubt < _ALIKE * clearest.doubt
    ]
    return min(alike, key=lambda track: track.gap_spread, default=clearest)


def track_of(
    times_s: Floats,
    told: ToothWheel,
    order: FiringOrder | None = None,
    patterns: Sequence[WheelPattern] = (),
    beside: OnceACycle | None = None,
    *,
    running: bool = False,
) -> ToothTrack:
    """Tie edges to crank angle.

    Parameters
    ----------
    times_s
        Rising, shape (edges,).
    told
        What the person knows of the wheel.
    order
        The engine's, whose compressions tell equal sectors of a wheel from whole turns.
    patterns
        What the wheel may be like besides what these edges show.
    beside
        Events of the sync channel, which tell sectors from turns where compressions do not.
    running
        Whether an engine that runs is looked for: then nothing is taken for its crank, and
        everything is kept.

    Raises
    ------
    WheelError
        If the edges do not fit a wheel, or nobody says how many teeth make a turn.
    """
    times_s = _turning(times_s)
    if times_s.size < _LEAST_EDGES:
        raise WheelError(say("fewer than eight teeth pass"))
    pattern, aligned = _best_fit(times_s, told, patterns)
    times_s, places = times_s[aligned.edges], aligned.places
    if pattern.additional:
        # where it stands is known from this recording alone: what is even is surer
        times_s, places = _without_fractions(times_s, places)
    if running:
        sectors = running_sectors_of(times_s, places, pattern, told, beside)
        kept, ran = np.arange(times_s.size), True
    else:
        sectors = sectors_of(times_s, places, pattern, told, order, beside=beside)
        kept, ran = _cranked(times_s, places / (pattern.places * sectors))
    teeth = pattern.places * sectors
    times_s, places = times_s[kept], places[kept]
    if times_s.size < _LEAST_EDGES or places[-1] - places[0] < teeth:
        raise WheelError(say("less than a turn is recorded"))
    return ToothTrack(
        times_s=times_s,
        angle_deg=(places - places[0]) * 360.0 / teeth,
        teeth=teeth,
        missing=sum(pattern.gaps) * sectors,
        doubt=_doubt(pattern, aligned, times_s),
        pattern=pattern.named(sectors),
        ran=ran,
    )


def _turning(times_s: Floats) -> Floats:
    """Return the longest stretch in which no two edges are as far apart as at a standstill."""
    still = np.flatnonzero(np.diff(times_s) > _STANDSTILL_S)
    if times_s.size == 0:
        return times_s
    starts = np.concatenate(([0], still + 1))
    ends = np.concatenate((still + 1, [times_s.size]))
    best = int(np.argmax(ends - starts))
    return times_s[starts[best] : ends[best]][:_MOST_EDGES]


def _best_fit(times_s: Floats, told: ToothWheel, patterns: Sequence[WheelPattern]) -> Fit:
    """Return the wheel on which the edges lie most smoothly, of those that may be it.

    Raises
    ------
    WheelError
        If nothing is learnt and too little entered, or one is not like the other.
    """
    found = list(dict.fromkeys((*_learnt(times_s, told), *patterns)))
    if not found:
        if (steps_of(times_s) > 1).any():
            raise WheelError(say("their gaps follow no pattern"))
        raise WheelError(_NO_GAP)
    part_s = _middle_part(times_s)
    wheels = [np.array(pattern.steps) for pattern in found]
    *aligned_each, even = align_each(part_s, [*wheels, np.ones(_ANY_TEETH)])
    fits = list(zip(found, aligned_each, strict=True))
    doubts = [_doubt(pattern, aligned, part_s) for pattern, aligned in fits]
    best = int(np.argmin(doubts))
    meant = [i for i, pattern in enumerate(found) if _is_as_told(pattern, told)]
    if told.teeth and meant:
        # a swing of speed may look like gaps: what is entered stands unless it is far worse
        entered = min(meant, key=lambda i: doubts[i])
        if _is_as_good(fits[entered], fits[best]):
            best = entered
    _check_told(found[best], told)
    if told.teeth is None and not _shows_gaps(*fits[best], even):
        raise WheelError(_NO_GAP)
    aligned = align(times_s, np.array(found[best].steps))
    many = len(found[best].gaps) > _MOST_GAPS_OF_ANY
    if told.teeth is None and aligned.cost > (_ROUGHEST_OF_MANY if many else _ROUGHEST_LEARNT):
        raise WheelError(say("no wheel fits them well, so it must be entered"), weight=2)
    if aligned.cost > _ROUGHEST or aligned.passed_over > _MOST_PASSED_OVER:
        raise WheelError(say("their gaps follow no pattern"))
    return found[best], aligned


def _is_as_good(entered: Fit, best: Fit) -> bool:
    """Return whether the edges lie on one wheel nearly as well as on the best."""
    (pattern, one), (_, other) = entered, best
    teeth = len(pattern.steps)
    if one.passed_over > other.passed_over + 0.5 / teeth:
        return False
    return one.cost < _AS_GOOD * other.cost or (one.cost - other.cost) * teeth < _WORSE_A_TURN


def _shows_gaps(pattern: WheelPattern, aligned: Alignment, even: Alignment) -> bool:
    """Return whether gaps explain what an even wheel does not."""
    unlike = max(1, len(pattern.gaps))
    return (even.cost - aligned.cost) * len(pattern.steps) >= _SAVED_BY_A_GAP * unlike


def _middle_part(times_s: Floats) -> Floats:
    """Return edges enough to choose among wheels by."""
    first = max(0, (times_s.size - _CHOSEN_BY) // 2)
    return times_s[first : first + _CHOSEN_BY]


def _doubt(pattern: WheelPattern, aligned: Alignment, times_s: Floats) -> float:
    """Return how little a wheel explains: of two that fit the simpler, seen oftener, is right."""
    often = max(float(aligned.places[-1]) / pattern.places, 0.1)
    large = sum(max(0, gap - _USUAL_GAP) for gap in pattern.gaps)
    doubt = aligned.cost + _DOUBT_A_GAP * (len(pattern.gaps) + large) + _DOUBT_SEEN_ONCE / often
    if not is_usual(pattern.places):
        doubt = _UNUSUAL_TIMES * doubt + _UNUSUAL
    turned_s = float(times_s[-1] - times_s[0]) / often
    return doubt + (_TOO_SLOW if turned_s > 60.0 / _SLOW_RPM else 0.0)


def _learnt(times_s: Floats, told: ToothWheel) -> Iterator[WheelPattern]:
    """Yield the wheels that the edges may be of."""
    if times_s.size < _LEAST_EDGES:
        return
    bare_s, between = without_additional(times_s)
    steps = steps_of(times_s)
    found = [*patterns_of_gaps(steps), *patterns_of_gaps(steps_of(bare_s))]
    found += [*single_gaps(times_s), *single_additional(times_s)]
    more = pattern_with_additional(times_s, between)
    if more is not None:
        found.append(more)
    if len(told.gaps) == 1 and told.teeth:
        # one gap leaves nothing to learn
        gap = told.gaps[0]
        found.append(WheelPattern((*[1.0] * (told.teeth - gap - 1), gap + 1.0), told.gaps))
    for pattern in found:
        # a swing of speed over few teeth looks like many gaps of a wheel that nobody makes
        plain = len(pattern.gaps) <= _MOST_GAPS_OF_ANY and not pattern.additional
        if plain or told.teeth is not None or is_usual(pattern.places):
            yield pattern
    if told.teeth and not told.missing and not told.additional:
        yield WheelPattern((1.0,) * told.teeth, ())


def _is_as_told(found: WheelPattern, told: ToothWheel) -> bool:
    """Return whether a pattern makes the wheel that was entered, as far as it was."""
    if told.teeth is None:
        return True
    sectors, rest = divmod(told.teeth, found.places)
    gaps = sorted(found.gaps * sectors)
    return (
        not rest
        and (not found.additional or sectors == 1)
        and (not told.gaps or sorted(told.gaps) == gaps)
        and told.missing in (None, sum(gaps))
        and (found.additional or not told.additional)
    )


def _check_told(found: WheelPattern, told: ToothWheel) -> None:
    """Hold what was found against what was entered.

    Raises
    ------
    WheelError
        If it is not the wheel that was entered.
    """
    if told.teeth is None or _is_as_told(found, told):
        return
    sectors, rest = divmod(told.teeth, found.places)
    if rest or (found.additional and sectors != 1):
        raise WheelError(
            say("their gaps do not come back after {teeth} teeth", teeth=told.teeth), weight=2
        )
    raise WheelError(
        say(
            "the wheel entered is {written} and the teeth make {named}",
            written=told.written,
            named=found.named(sectors),
        ),
        weight=2,
    )


def _without_fractions(times_s: Floats, places: Floats) -> tuple[Floats, Floats]:
    counts = np.bincount(np.rint(1000 * (places % 1)).astype(np.int64) % 1000, minlength=1000)
    whole = np.abs((places - counts.argmax() / 1000 + 0.5) % 1 - 0.5) < 0.01
    return times_s[whole], places[whole]


def _cranked(times_s: Floats, turns: Floats) -> tuple[NDArray[np.int64], bool]:
    """Return which edges belong to the crank, and whether the engine ran.

    The crank is the longest stretch at its usual speed, without start and coasting; before an
    engine that runs it ends where the first fires speed it up. Where the engine ran all the time
    everything is kept, so that it can be said.
    """
    rpm = _rpm_around(times_s, turns, _AROUND_S)
    slow = _longest(rpm <= FASTEST_RPM)
    ran = bool((rpm > FASTEST_RPM).any())
    if slow.size < 2 or turns[slow[-1]] - turns[slow[0]] < _LEAST_CRANKED_TURNS:
        slow = np.arange(times_s.size)
    usual_rpm = float(np.median(rpm[slow]))
    most = _MOST_RATE_AND_RAN if ran else _MOST_RATE
    # over a whole cycle: within one the speed may swing as far as that
    over_cycle = _rpm_around(times_s[slow], turns[slow], max(_AROUND_S, 120.0 / usual_rpm))
    steady = (over_cycle >= _LEAST_RATE * usual_rpm) & (rpm[slow] <= most * usual_rpm)
    return slow[_longest(steady)], ran


def _rpm_around(times_s: Floats, turns: Floats, around_s: float) -> Floats:
    """Return the mean speed in a window around each edge."""
    reach = np.array([-around_s / 2, around_s / 2])
    ends_s = np.clip(times_s[:, None] + reach, times_s[0], times_s[-1])
    passed = np.interp(ends_s, times_s, turns)
    return np.asarray(60.0 * np.diff(passed, axis=1)[:, 0] / np.diff(ends_s, axis=1)[:, 0])


def _longest(good: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return the places of the longest run of good ones."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], good, [False])).astype(np.int8)))
    if edges.size == 0:
        return np.empty(0, dtype=np.int64)
    starts, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - starts))
    return np.arange(starts[best], ends[best])
