"""Whether another engine than the one entered would make these humps.

Firing angles that were forgotten, or a wrong number of cylinders, need not look like a poor fit:
what one firing lacks its neighbour is given, and the engine reads as one with a low bank. But the
humps stand where the engine fires. So engines that fire otherwise are laid over the same cycle.
Plain humps sort out nearly all of them at no cost; what is left is fitted and weighed.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from engines.core.firing import FiringOrder
from engines.core.spacing import (
    Intervals,
    are_alike,
    may_be_uneven,
    rotations,
    spacing_words,
    usual_intervals,
    with_intervals,
)
from shopdiag.people.core.words import say
from traces.core.crank import settle
from traces.core.findings import Finding, finding
from traces.core.humps.humps import HumpMethod
from traces.core.preparation import Measured, Prepared
from traces.core.sync import NO_SYNC

Refit: TypeAlias = Callable[[Prepared, Measured, float], float]
"""Fits a layout of an engine and returns twice the negative log of how likely it is, or anything
above its third argument where it is above that."""

_FASTEST_RPM = 330.0  # a measured four cranks at 316 rpm; hardly an engine is faster
_COUNTS = (2, 3, 4, 5, 6, 8, 10, 12)
_MOST_FITTED = 2
_MOSTLY = 0.7
_EXPLAINED_BY_THE_ENGINE = ("poor-fit", "sync-mismatch", "which-cylinder")
_MORE_EXPLAINED = 0.15
"""More cylinders always explain more; of humps that are there they explain far more."""

_HARDLY_EXPLAINED = 0.5
"""Twice as many cylinders can take the shape of any hump; so they count only where those entered
leave the humps unexplained."""

_LIKELIER = 10.0
"""Twice a log ratio that is very strong evidence (Kass and Raftery, JASA 90, 1995; from memory)."""

_NEARLY_AS_LIKELY = 30.0
_COST_SHARE = 0.4
"""Of the cost of the engine entered: where the model misses what any engine shows, differences of
cost grow with the miss."""


@dataclass(frozen=True, slots=True, eq=False)
class _Other:
    """Another engine laid over the cycle by its humps."""

    prepared: Prepared
    layouts: tuple[Measured, ...]
    explained: float


@dataclass(frozen=True, slots=True)
class _Likely:
    """Another engine, and twice the negative log of how likely it is."""

    order: FiringOrder
    cost: float


def check_engine(
    prepared: Prepared, plain: Measured, cost: float, refit: Refit, *, half_cycles: bool = False
) -> list[Finding]:
    """Refuse, or doubt, an engine when another would make the same humps.

    Parameters
    ----------
    prepared
        The capture, for the engine entered.
    plain
        Its hump readings, with the other layouts that the sync leaves open.
    cost
        Of the likeliest fit of the engine entered.
    refit
        Fits other engines the same way.
    half_cycles
        Whether `refit` can follow a cycle of half the length.

    Notes
    -----
    Asked of the starter current only: tooth times and the battery's sag do not tell spacings from
    each other well enough, and a measured sound V6 was refused for another's.
    """
    if not prepared.setup.kind.is_current:
        return []
    if _events_skip_cycles(prepared):
        why = say(": the events come only once in two cycles of so many humps")
        return [finding("hump-mismatch", cylinders=len(prepared.order), why=why)]
    explained = _explained(plain)
    if half_cycles:
        halves = _in_half_the_time(prepared, explained)
        halved = _likeliest(halves, refit, _clearly_likelier(cost))
        if halved and halved.cost < _clearly_likelier(cost):
            return [_halved_finding(prepared, halved.order)]
    spacings = _spaced_otherwise(prepared, explained)
    spaced = _likeliest(spacings, refit, cost + _NEARLY_AS_LIKELY)
    likelier = _clearly_likelier(min(cost, spaced.cost) if spaced else cost)
    counted = _likeliest(_counted_otherwise(prepared, explained), refit, likelier)
    if counted and counted.cost < likelier:
        why = say(": those of one with {count} fit them better", count=len(counted.order))
        return [finding("hump-mismatch", cylinders=len(prepared.order), why=why)]
    if spaced and cost - spaced.cost > -_NEARLY_AS_LIKELY:
        code = "angles-unlikely" if spaced.cost < cost else "angles-doubted"
        other, entered = _words(prepared, spaced.order), _words(prepared, prepared.order)
        return [finding(code, likelier=other, entered=entered)]
    return []


def _events_skip_cycles(prepared: Prepared) -> bool:
    """Return whether events come mostly two cycles apart, but for some that leaked in."""
    sync, cranking = prepared.sync, prepared.cranking
    if sync.state != "every-720" or sync.by_hand:
        return False
    times_s = cranking.conditioned.times_s
    counted = np.interp(sync.events_s, times_s, cranking.cycle_count)
    apart = np.rint(np.diff(counted))
    return bool(apart.size and np.mean(apart % 2 == 0) >= _MOSTLY)


def _clearly_likelier(cost: float) -> float:
    """Return the cost under which another engine is clearly likelier than one of this cost."""
    return min(cost - _LIKELIER, _COST_SHARE * cost)


def with_doubts(measured: Measured, doubts: list[Finding]) -> Measured:
    """Return what was measured with the doubts of its engine, which explain what did not fit."""
    refused = any(doubt.severity == "stop" for doubt in doubts)
    kept = [f for f in measured.findings if not (refused and f.code in _EXPLAINED_BY_THE_ENGINE)]
    return replace(measured, findings=(*doubts, *kept))


def _spaced_otherwise(prepared: Prepared, explained: float) -> Iterator[_Other]:
    """Give the other usual spacings of as many cylinders whose humps explain more."""
    order = prepared.order
    spacings = list(usual_intervals(len(order)))
    if not order.is_even:
        spacings += rotations(order.intervals_deg)
    # without a mark a layout is tried from every firing, with several edges from some of them
    is_turned = prepared.mark is None or bool(prepared.sync.others_cycles)
    # events every 360 degrees fit a spacing and, some degrees on, the same counted from the next
    # firing: the engine half a turn on
    is_own = is_turned or prepared.sync.state == "every-360"
    done = rotations(order.intervals_deg) if is_own else [order.intervals_deg]
    for intervals in spacings:
        turned = rotations(intervals) if is_turned else [intervals]
        if any(are_alike(one, other) for one in turned for other in done):
            continue
        done.append(intervals)
        other = _laid(replace(prepared, order=with_intervals(order, intervals)))
        if other.explained > explained:
            yield other


def _in_half_the_time(prepared: Prepared, explained: float) -> Iterator[_Other]:
    """Give engines whose cycle is half as long, where no event tells how long it is.

    Two firings close together make one hump, so that an engine that fires in pairs looks like an
    evenly firing one at half its speed; a dead cylinder takes a hump away likewise.
    """
    order, cranking = prepared.order, prepared.cranking
    if prepared.sync.keeps_to_cycle or prepared.sync.by_hand or not order.is_even:
        return
    if not may_be_uneven(len(order)) or 2 * cranking.rpm > _FASTEST_RPM:
        return
    halved, _ = settle(
        cranking.conditioned,
        cranking.span,
        2 * cranking.cycle_count,
        NO_SYNC,
        cranking.left_out_s,
    )
    if halved is None:
        return
    shorter = replace(prepared, cranking=halved, sync=NO_SYNC, mark=None)
    done: list[Intervals] = []
    for intervals in usual_intervals(len(order)):
        if any(are_alike(turned, other) for turned in rotations(intervals) for other in done):
            continue
        done.append(intervals)
        other = _laid(replace(shorter, order=with_intervals(order, intervals)))
        if other.explained > explained:
            yield other


def _halved_finding(prepared: Prepared, order: FiringOrder) -> Finding:
    if order.is_even:
        why = say(": they fit a cycle half as long, with cylinders that make none")
        return finding("hump-mismatch", cylinders=len(order), why=why)
    likelier, entered = spacing_words(order.intervals_deg), _words(prepared, prepared.order)
    return finding("angles-unlikely", likelier=likelier, entered=entered)


def _counted_otherwise(prepared: Prepared, explained: float) -> Iterator[_Other]:
    """Give other numbers of cylinders, where events tell how long the cycle is."""
    count, sync = len(prepared.order), prepared.sync
    if not sync.keeps_to_cycle or sync.by_hand:
        return
    for cylinders in _COUNTS:
        if cylinders == count:
            continue
        if cylinders % count == 0 and explained > _HARDLY_EXPLAINED:
            continue
        least = explained + (_MORE_EXPLAINED if cylinders > count else 0.0)
        even = FiringOrder.even(range(1, cylinders + 1))
        done: list[Intervals] = []
        for intervals in usual_intervals(cylinders):
            if any(are_alike(turned, other) for turned in rotations(intervals) for other in done):
                continue
            done.append(intervals)
            # which of them the events mark is not known
            other = _laid(replace(prepared, order=with_intervals(even, intervals), mark=None))
            if other.explained > least:
                yield other


def _laid(prepared: Prepared) -> _Other:
    plain = HumpMethod().measure(prepared)
    layouts = (plain, *plain.alternatives)
    return _Other(prepared, layouts, _explained(plain))


def _explained(plain: Measured) -> float:
    return max(layout.explained for layout in (plain, *plain.alternatives))


def _likeliest(others: Iterator[_Other], refit: Refit, in_reach: float) -> _Likely | None:
    """Fit those whose humps explain most, and return the likeliest, if any is in reach."""
    best = sorted(others, key=lambda other: -other.explained)[:_MOST_FITTED]
    fitted = (
        _Likely(
            other.prepared.order,
            min(refit(other.prepared, layout, in_reach) for layout in other.layouts),
        )
        for other in best
    )
    return min(fitted, key=lambda likely: likely.cost, default=None)


def _words(prepared: Prepared, order: FiringOrder) -> str:
    """Return a spacing as counted from the first of the firing order entered."""
    first = prepared.setup.firing_order.sequence[0]
    return spacing_words(order.starting_at(first).intervals_deg)
