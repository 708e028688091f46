"""How many equal sectors make a turn of a wheel whose gaps come back several times a turn.

The edges of 36-2-2-2 are those of a wheel of twelve places with one gap that turns three times
as fast. What tells them apart: the wheel as entered, the speeds a starter reaches, and how many
places lie between two compressions.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engines.core.firing import FiringOrder
from shopdiag.people.core.words import say
from traces.core.findings import chained
from traces.core.setup import ToothWheel
from traces.core.signals.wheel_error import WheelError
from traces.core.signals.wheel_pattern import WheelPattern
from traces.core.waveform import Floats

_USUAL_PLACES = (24, 36, 48, 60, 120)
"""Wheels with one gap in so many places are usual (common practice), sectors of so many not."""

_POSSIBLE_RPM = (80.0, 420.0)
_LIKELY_RPM = (130.0, 370.0)
_SHARE_OF_TIME = 0.4
_MOST_SECTORS = 6
_MOST_PLACES = 120
_CLEARER = 4.0  # times the power of any other reading
_LEAST_SWING = 0.01  # of the mean: less shows no compression
_OFTENER = 1.5  # times the power
_LEAST_SWING_OF_MANY = 0.04
_FIRING_WEIGHT = 0.4
_FEWEST_STEPS, _STEPS_WITHIN = 2, 0.2  # patterns: events of one kind stand still on the crank
_A_PLACE = 4  # points of the grid


@dataclass(frozen=True, slots=True, eq=False)
class OnceACycle:
    """Events of another channel that come once in so many crank degrees, by what is said of them.

    Parameters
    ----------
    times_s
        Of the events, shape (events,).
    every_deg
        Crank angle from one to the next.
    """

    times_s: Floats
    every_deg: float


def sectors_of(
    times_s: Floats,
    places: Floats,
    pattern: WheelPattern,
    told: ToothWheel,
    order: FiringOrder | None,
    *,
    beside: OnceACycle | None = None,
) -> int:
    """Return how many times the pattern comes back in a turn.

    Parameters
    ----------
    times_s, places
        Edges, and where on the pattern they stand, counted on.
    told
        The wheel as entered.
    order
        The engine's.
    beside
        Events that settle it where nothing else does.

    Raises
    ------
    WheelError
        If several readings are as good: a person has to say which wheel it is.
    """
    if told.teeth is not None:
        return max(1, told.teeth // pattern.places)
    if pattern.additional or len(pattern.gaps) != 1:
        # several unlike gaps are a whole turn's
        _refuse_two_turns(times_s, places, pattern, order)
        return 1
    one_rpm = _slow_rpm(times_s, places, pattern.places)
    if pattern.places in _USUAL_PLACES and one_rpm <= _LIKELY_RPM[1]:
        return 1
    swings = _swings(times_s, places, pattern.places, order) if order else {}
    may_be = _readings(one_rpm, pattern, _clear(swings))
    if len(may_be) == 1:
        return may_be[0]
    counted = _by_events(times_s, places, pattern, beside) if beside else None
    if counted in may_be:
        return counted
    wheels = chained([pattern.named(sectors) for sectors in may_be[:3]], "or")
    raise WheelError(
        say(
            "their gaps come back every {places} places, which may be {wheels}, so "
            "the wheel must be entered",
            places=pattern.places,
            wheels=wheels,
        ),
        weight=3,
    )


def running_sectors_of(
    times_s: Floats,
    places: Floats,
    pattern: WheelPattern,
    told: ToothWheel,
    beside: OnceACycle | None,
) -> int:
    """Return how many times the pattern comes back in a turn of an engine that runs.

    Its speed tells nothing of it: a pattern is one turn unless wheel or events say otherwise.

    Raises
    ------
    WheelError
        If so few places are no usual wheel, and nothing says how many sectors make one.
    """
    if told.teeth is not None:
        return max(1, told.teeth // pattern.places)
    if pattern.additional or len(pattern.gaps) != 1 or pattern.places in _USUAL_PLACES:
        return 1
    counted = _by_events(times_s, places, pattern, beside) if beside else None
    if counted is not None and 1 <= counted <= _MOST_SECTORS:
        return counted
    raise WheelError(
        say(
            "their gaps come back every {places} places, which may be a part of a turn, so "
            "the wheel must be entered",
            places=pattern.places,
        ),
        weight=3,
    )


def _by_events(
    times_s: Floats, places: Floats, pattern: WheelPattern, beside: OnceACycle
) -> int | None:
    """Return how many patterns pass in a turn by events beside it; None where that is unclear."""
    inside = (beside.times_s > times_s[0]) & (beside.times_s < times_s[-1])
    passed = np.diff(np.interp(beside.times_s[inside], times_s, places)) / pattern.places
    if passed.size < _FEWEST_STEPS or float(np.ptp(passed)) > _STEPS_WITHIN:
        return None
    a_turn = float(passed.mean()) * 360.0 / beside.every_deg
    return round(a_turn) if abs(a_turn - round(a_turn)) < _STEPS_WITHIN else None


def _refuse_two_turns(
    times_s: Floats, places: Floats, pattern: WheelPattern, order: FiringOrder | None
) -> None:
    """Refuse a pattern of a turn in which the compressions of two come.

    A camshaft's wheel does that; and a crank's of few teeth may be learnt so, where the swing of
    speed differs from turn to turn.

    Raises
    ------
    WheelError
        If the compressions come twice as often as they can.
    """
    if order is None or 2 * _slow_rpm(times_s, places, pattern.places) > _POSSIBLE_RPM[1]:
        return
    swings = _swings(times_s, places, pattern.places, order, (0.5, 1.0))
    # a swing of amplitude a makes (a n / 4)^2 under the window
    least = (_LEAST_SWING_OF_MANY * _A_PLACE * (places[-1] - places[0]) / 4) ** 2
    if swings and swings[0.5] > max(least, _OFTENER * swings.get(1.0, 0.0)):
        raise WheelError(
            say(
                "they seem to be {named}, but then compressions come twice as often as "
                "in the engine entered, as by a wheel on the camshaft; the crank's must "
                "be entered",
                named=pattern.named(),
            ),
            weight=3,
        )


def _readings(one_rpm: float, pattern: WheelPattern, clear: int | None) -> list[int]:
    """Return the numbers of sectors that may be, one where that is clear."""
    possible = _within(_POSSIBLE_RPM, one_rpm, pattern)
    if clear is not None and (clear == 1 or clear in possible):
        return [clear]
    likely = _within(_LIKELY_RPM, one_rpm, pattern)
    if 1 in likely or not possible:
        return [1]
    usual = [sectors for sectors in likely if pattern.places * sectors in _USUAL_PLACES]
    return usual or likely or possible


def _within(limits_rpm: tuple[float, float], one_rpm: float, pattern: WheelPattern) -> list[int]:
    """Return the numbers of sectors that make a speed within limits."""
    slowest_rpm, fastest_rpm = limits_rpm
    return [
        sectors
        for sectors in range(1, _MOST_SECTORS + 1)
        if slowest_rpm <= one_rpm / sectors <= fastest_rpm
        and pattern.places * sectors <= _MOST_PLACES
    ]


def _slow_rpm(times_s: Floats, places: Floats, turn: int) -> float:
    """Return the speed for most of the time, nearer to the crank's where the engine ran too."""
    count = int((places[-1] - places[0]) // turn)
    if count < 1:
        return 0.0
    at_s = np.interp(places[0] + turn * np.arange(count + 1), places, times_s)
    turns_s = np.sort(np.diff(at_s))[::-1]
    passed = np.cumsum(turns_s) / turns_s.sum()
    return float(60.0 / turns_s[int(np.searchsorted(passed, _SHARE_OF_TIME))])


def _swings(
    times_s: Floats,
    places: Floats,
    turn: int,
    order: FiringOrder,
    sectors_of_a_turn: Sequence[float] = range(1, _MOST_SECTORS + 1),
) -> dict[float, float]:
    """Return the power of the swing of speed that each number of sectors calls compressions."""
    even = np.arange(places[0], places[-1], 1.0 / _A_PLACE)
    at_s = np.interp(even, places, times_s)
    slow = np.diff(at_s)
    course = np.polynomial.Polynomial.fit(np.arange(slow.size), slow, 3)(np.arange(slow.size))
    swing = slow / course - 1.0
    if float(swing.std()) < _LEAST_SWING:
        return {}
    window = np.hanning(swing.size)
    found: dict[float, float] = {}
    for sectors in sectors_of_a_turn:
        cycle = 2.0 * turn * sectors
        if even.size < _A_PLACE * cycle:
            break
        powers = [
            abs(np.sum(window * swing * np.exp(-2j * np.pi * harmonic * even[:-1] / cycle))) ** 2
            for harmonic in _firing_harmonics(order)
        ]
        found[sectors] = float(max(powers))
    return found


def _firing_harmonics(order: FiringOrder) -> list[int]:
    """Return which multiples of the cycle's frequency the compressions make."""
    count = len(order)
    angles = np.deg2rad(np.array(order.tdc_angles_deg))
    shares = {h: abs(np.exp(-0.5j * h * angles).sum()) / count for h in range(1, count + 2)}
    return [h for h, share in shares.items() if share >= _FIRING_WEIGHT] or [count]


def _clear(swings: dict[float, float]) -> int | None:
    """Return the reading whose swing stands out, None where none does."""
    ranked = sorted(swings, key=lambda sectors: -swings[sectors])
    if len(ranked) < 2 or swings[ranked[0]] < _CLEARER * swings[ranked[1]]:
        return None
    return round(ranked[0])
