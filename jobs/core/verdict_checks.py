"""Signed verdicts held against what tests on the engine found."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from jobs.core.customer_words import CylindersTested
from jobs.core.request import is_open

SEALING_TESTS = frozenset({"gauge_dry", "gauge_wet", "running", "leak_down", "borescope", "valves"})
"""Tests that tell whether a cylinder holds compression; a coil found bad says nothing of it."""


class Check(StrEnum):
    """How a signed verdict fared."""

    CONFIRMED = "confirmed"
    NOT_CONFIRMED = "not_confirmed"
    NOT_CHECKED = "not_checked"


@dataclass(frozen=True, slots=True)
class Measured:
    """One result of a test on a cylinder."""

    cylinder: int
    test: str
    outcome: str


def cylinders_tested(results: Iterable[Measured]) -> CylindersTested:
    """Return which cylinders are bad and which good; the later result of the same test counts.

    A cylinder that one test found bad is bad, whatever another found.
    """
    newest = {(r.cylinder, r.test): r.outcome for r in results if r.test in SEALING_TESTS}
    bad = {cylinder for (cylinder, _), outcome in newest.items() if outcome == "bad"}
    good = {cylinder for (cylinder, _), outcome in newest.items() if outcome == "good"}
    return CylindersTested(bad=frozenset(bad), good=frozenset(good - bad))


def check_named(
    signed: Collection[int], candidates: Sequence[Collection[int]], tested: CylindersTested
) -> Check:
    """Return how a verdict fared that names weak cylinders.

    Confirmed where each of them was found bad and no other; not confirmed where one was found
    good, or another one bad. Of a verdict that left several sets open, one of them has to fit.
    """
    sets = [frozenset(c) for c in candidates if c]
    fits = sets if is_open(signed, sets) else [frozenset(signed)]
    if any(one == tested.bad for one in fits if one):
        return Check.CONFIRMED
    if all(one & tested.good or tested.bad - one for one in fits):
        return Check.NOT_CONFIRMED
    return Check.NOT_CHECKED


def check_no_fault(
    named: Collection[int], cylinders: Collection[int], tested: CylindersTested
) -> Check:
    """Return how a verdict fared that found no compression fault.

    Parameters
    ----------
    named
        The cylinders that it names as misfiring: these have to be found good, or all where it
        names none.
    cylinders
        All of the engine; empty where it is not known.
    """
    if tested.bad:
        return Check.NOT_CONFIRMED
    suspects = set(named) or set(cylinders)
    return Check.CONFIRMED if suspects and suspects <= tested.good else Check.NOT_CHECKED
