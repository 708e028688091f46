"""Figures of tests that were made, held against the limits that were in force."""

from collections.abc import Iterable

from jobs.core.measured_tests import BAD, Limit, applying_limits, missed, sayings_of
from jobs.core.measured_tests import TESTS as TYPED
from jobs.core.plan.evidence import TestDone

READ_BY_LIMITS = frozenset(
    {"trims", "fuel_press", "injector", "wiring", "valves", "starter", "phaser", "cam_trace"}
)
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


def bad_figures(done: TestDone, beside: Iterable[TestDone]) -> frozenset[str]:
    """Return the figures of a cylinder's test that miss their limit or stand out among the others'.

    Parameters
    ----------
    beside
        The tests of all cylinders, itself among them.
    """
    entry = TYPED[done.test]
    rows = {one.cylinder: one.figures for one in beside if one.test == done.test}
    limits = {figure.name: limit_in_force(done, figure.name) for figure in entry.limited}
    said = sayings_of(entry, rows, limits)
    return frozenset(s.figure for s in said if s.row == done.cylinder and s.outcome == BAD)
