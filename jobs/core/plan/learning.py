"""What tests take on an engine, learnt from the minutes that people booked on work orders."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median

from jobs.core.plan.knowledge import TESTS

LEAST_ORDERS = 3
"""From so many orders on the shop's own figure counts instead of the usual one (a choice)."""


@dataclass(frozen=True, slots=True)
class BookedOrder:
    """A finished order of a diagnosis: what was booked on it, and what was made.

    Parameters
    ----------
    minutes
        Of all its lines that stand.
    tests
        Tests made, by their keys in `outcomes.toml`, each once.
    reach_minutes
        What reaching the plugs for its tests takes on this engine, as the plan adds it; 0 where
        nobody timed it.
    """

    minutes: int
    tests: frozenset[str]
    reach_minutes: float = 0.0


@dataclass(frozen=True, slots=True)
class Learnt:
    """Minutes of one test without reaching the plugs: the median, and of how many orders."""

    minutes: float
    orders: int


def learnt_minutes(orders: Iterable[BookedOrder]) -> Mapping[str, Learnt]:
    """Return what each test took, as far as enough orders tell.

    An order of one test tells it; one of several is split in proportion to their usual minutes.
    What reaching the plugs takes is taken off first, where a test of the order needs them reached:
    the plan adds it again by bank.
    """
    found: dict[str, list[float]] = defaultdict(list)
    for order in orders:
        for test, minutes in _split(order).items():
            found[test].append(minutes)
    return {
        test: Learnt(round(median(all_of), 1), len(all_of))
        for test, all_of in found.items()
        if len(all_of) >= LEAST_ORDERS
    }


def _split(order: BookedOrder) -> dict[str, float]:
    tests = [TESTS[key] for key in sorted(order.tests) if key in TESTS]
    if not tests or len(tests) < len(order.tests) or order.minutes <= 0:
        # time that went into something else is nobody's measure
        return {}
    reach = order.reach_minutes if any(t.reach for t in tests) else 0.0
    left = max(order.minutes - reach, 1.0)
    usual = sum(t.minutes for t in tests)
    return {t.key: left * t.minutes / usual for t in tests}
