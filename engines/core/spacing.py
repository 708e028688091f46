"""How far apart engines fire: evenly, or as crank pins and bank angle make it."""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from engines.core.firing import CYCLE_DEG, FiringOrder

Intervals = tuple[float, ...]
"""Crank degrees from each firing to the next one, once around the cycle."""

_SAME_DEG = 1.0
_ANGLES_TOLD = (2, 6, 10)
"""Numbers of cylinders of which unevenly firing engines are common enough to be asked about."""

_UNEVEN = MappingProxyType(
    {
        # V twins on one crank pin fire 360 less and 360 plus the bank angle apart: 45, 60 and 90
        # degrees are usual. In-line twins have pins 180 or 270 degrees apart. (from memory)
        2: ((315.0, 405.0), (300.0, 420.0), (270.0, 450.0), (180.0, 540.0)),
        # a 90 degree V4 or an in-line four with pins a quarter turn apart; a V4 whose pins all
        # stand alike (from memory)
        4: ((180.0, 270.0, 180.0, 90.0), (90.0, 270.0) * 2),
        # a 90 degree V6 whose pairs share a pin, and one whose pins are split by 18 degrees
        # (common practice); a 60 degree V6 whose pairs share a pin (from memory)
        6: ((150.0, 90.0) * 3, (132.0, 108.0) * 3, (180.0, 60.0) * 3),
        # a 90 degree V10 whose pairs share a pin (common practice)
        10: ((90.0, 54.0) * 5,),
    }
)


@dataclass(frozen=True, slots=True)
class FiringAngles:
    """How an engine fires.

    Parameters
    ----------
    firing_order, angles_deg
        Cylinders in sequence, and the crank angle at which each fires.
    intervals
        What repeats, in words: `150/90`.
    even
        Whether it fires evenly.
    """

    firing_order: tuple[int, ...]
    angles_deg: tuple[float, ...]
    intervals: str
    even: bool


def usual_intervals(cylinders: int) -> tuple[Intervals, ...]:
    """Return how engines of so many cylinders are known to fire, even spacing first.

    Uneven spacings come once for each firing that the cycle may be counted from.
    """
    spacings = [(CYCLE_DEG / cylinders,) * cylinders]
    for intervals in _UNEVEN.get(cylinders, ()):
        spacings += rotations(intervals)
    return tuple(spacings)


def may_be_uneven(cylinders: int) -> bool:
    """Return whether engines of so many cylinders are known that fire unevenly."""
    return cylinders in _UNEVEN


def rotations(intervals: Intervals) -> list[Intervals]:
    """Return the intervals counted from each firing, alike ones once."""
    found: list[Intervals] = []
    for at in range(len(intervals)):
        turned = intervals[at:] + intervals[:at]
        if not any(are_alike(turned, other) for other in found):
            found.append(turned)
    return found


def are_alike(one: Intervals, other: Intervals) -> bool:
    """Return whether firings stand within a degree of each other."""
    if len(one) != len(other):
        return False
    off_deg, apart_deg = 0.0, 0.0
    for a, b in zip(one, other, strict=True):
        off_deg += a - b
        apart_deg = max(apart_deg, abs(off_deg))
    return apart_deg <= _SAME_DEG


def with_intervals(order: FiringOrder, intervals: Intervals) -> FiringOrder:
    """Return the same firing sequence, spaced otherwise."""
    angles_deg = [0.0]
    for interval_deg in intervals[:-1]:
        angles_deg.append(angles_deg[-1] + interval_deg)
    return FiringOrder(order.sequence, tuple(angles_deg))


def spacing_words(intervals: Sequence[float]) -> str:
    """Return a spacing as people write it: `120` where even, else what repeats, like `150/90`."""
    count = len(intervals)
    for period in range(1, count):
        repeats = all(
            abs(intervals[i] - intervals[i % period]) <= _SAME_DEG for i in range(period, count)
        )
        if count % period == 0 and repeats:
            return "/".join(f"{interval:.0f}" for interval in intervals[:period])
    return "/".join(f"{interval:.0f}" for interval in intervals)


def firing_angles(order: FiringOrder) -> FiringAngles | None:
    """Return the angles of an engine that may fire unevenly; None where they need no telling."""
    if order.is_even and len(order) not in _ANGLES_TOLD:
        return None
    return FiringAngles(
        firing_order=order.sequence,
        angles_deg=tuple(round(angle, 1) for angle in order.tdc_angles_deg),
        intervals=spacing_words(order.intervals_deg),
        even=order.is_even,
    )
