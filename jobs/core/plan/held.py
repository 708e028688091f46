"""Figures of tests that were made, held against the limits that were in force."""

from jobs.core.measured_tests import TESTS as TYPED
from jobs.core.measured_tests import Limit, applying_limits, missed
from jobs.core.plan.evidence import TestDone

READ_BY_LIMITS = frozenset({"trims", "fuel_press", "injector", "wiring"})
"""Tests of which the plan reads more than good or bad, by their figures' limits."""


def limit_in_force(done: TestDone, name: str) -> Limit:
    """Return the limit of a figure: as set for the job, the engine or the shop, else the usual."""
    limit = done.limits.get(name)
    if limit is None:
        limit = applying_limits(TYPED[done.test], {}).get(name)
    return limit or Limit()


def value_of(done: TestDone, name: str) -> float | None:
    """Return a typed or derived figure of a test; None where it is not known."""
    figure = TYPED[done.test].figure(name)
    value = figure.of(done.figures) if figure else None
    return float(value) if isinstance(value, int | float) else None


def side_missed(done: TestDone, name: str) -> str | None:
    """Return `low` or `high` where a figure misses its limit, '' where it keeps it, else None."""
    figure, value = TYPED[done.test].figure(name), value_of(done, name)
    if figure is None or value is None:
        return None
    # in kilopascals as kept; a test's outcome was settled in the shop's unit already
    return missed(figure, limit_in_force(done, name), value, "kPa")
