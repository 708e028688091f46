"""Several captures of one engine in one state: whether they agree, and what they say together."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.humps import Limits, sound_mean
from traces.core.pooling.pool_input import PoolInput, take_of
from traces.core.pooling.random_effects import (
    between_variance,
    cochran_q,
    pooled_mean,
    spread_of_weights,
    student_t,
)
from traces.core.report import Call, Report, high_places
from traces.core.waveform import Floats

__all__ = ["Aligned", "PoolInput", "PooledPlace", "Together", "pool", "take_of"]

LEAST_APART = 0.10
"""From which captures count as different: scatter under 10 % is usual (common practice)."""
_BY_CHANCE = 0.01
_REPEAT_ERROR = 0.01
"""What a repeat changes at least: battery and oil are never quite the same (chosen with the
repeats of `tests/traces/core/pooling/test_pooling_measured.py`; their median is 0.2 points)."""
_ALIGN_ERROR = 0.04
"""Wider where a labelling is looked for: conditions may differ between captures."""
_FAR_APART = 0.25
"""From which a cylinder that is low in all captures counts as different all the same."""
_LEAST_TO_SCALE = 4
_SCALE_FROM = 0.03
_CLEARLY = 9.2
"""Twice the log of 100: the next labelling is a hundred times less likely."""
REPEATABILITY_FACTOR = 2.8
"""Two single results differ by less than this many standard deviations in 95 % (ISO 5725-6)."""


@dataclass(frozen=True, slots=True)
class Aligned:
    """What became of one capture.

    Parameters
    ----------
    key
        The take's own.
    role
        `pooled`; `turned`: pooled, its numbers found by laying it over the others; `fits`: in
        keeping with the others, its numbers stay open; `contradicts`: in keeping with them
        under none of its labellings.
    """

    key: int
    role: str


@dataclass(frozen=True, slots=True)
class PooledPlace:
    """One cylinder in all captures together.

    Parameters
    ----------
    place, cylinder
        1-based place in the firing sequence; the number, None where no capture settles it.
    figures, intervals
        Relative compression in each pooled capture with its own 95 % interval, in the order of
        `Together.keys`.
    relative, low, high
        Pooled figure and its 95 % interval.
    call
        By the pooled figure.
    repeat_sd
        Standard deviation between the captures.
    p
        How often captures of an unchanged cylinder differ as much as these.
    differs
        Whether the captures disagree about this cylinder.
    """

    place: int
    cylinder: int | None
    figures: tuple[float, ...]
    intervals: tuple[tuple[float, float], ...]
    relative: float
    low: float
    high: float
    call: Call
    repeat_sd: float
    p: float
    differs: bool


@dataclass(frozen=True, slots=True)
class Together:
    """Several captures as one.

    Parameters
    ----------
    keys
        The captures pooled, in the order given.
    aligned
        Every capture and what became of it.
    places
        One for each firing position.
    cylinders_known
        Whether some capture's sync decides the numbers.
    candidates
        Sets of low cylinders by the pooled calls, those left out that come and go.
    repeat_sd
        Repeatability standard deviation over the cylinders that agree (ISO 5725-2).
    turned_by
        Captures with the same figures under other labels: (key, key, firings by which the
        second's come later; negative: earlier). Then the sync was on another cylinder in one.
    cycles
        Engine cycles in all pooled captures.
    """

    keys: tuple[int, ...]
    aligned: tuple[Aligned, ...]
    places: tuple[PooledPlace, ...]
    cylinders_known: bool
    candidates: tuple[tuple[int, ...], ...]
    repeat_sd: float
    turned_by: tuple[tuple[int, int, int], ...]
    cycles: int

    @property
    def agrees(self) -> bool:
        """Whether nothing contradicts."""
        return (
            not self.turned_by
            and not self.differing
            and all(a.role != "contradicts" for a in self.aligned)
        )

    @property
    def differing(self) -> tuple[PooledPlace, ...]:
        """Cylinders that the captures disagree about."""
        return tuple(p for p in self.places if p.differs)

    @property
    def high(self) -> tuple[PooledPlace, ...]:
        """Cylinders that are high in all captures together."""
        return tuple(p for p in (self.places[i] for i in high_places(self.places)) if not p.differs)

    @property
    def by_cylinder(self) -> dict[int, PooledPlace]:
        """Places by cylinder number, where those are known."""
        return {p.cylinder: p for p in self.places if p.cylinder is not None}


def pool(takes: Sequence[PoolInput], limits: Limits) -> Together | None:
    """Pool captures of one engine in one state.

    Parameters
    ----------
    takes
        Judged captures, all with the same firing order.
    limits
        For the calls.

    Returns
    -------
    Together or None
        None where fewer than two captures say something about each other.

    Notes
    -----
    A figure's uncertainty has two parts. What differs from cycle to cycle shrinks with more
    captures; what the method gets wrong about an engine comes back in every capture of it, so
    that it stays in full. Captures are pooled by random effects (DerSimonian and Laird 1986).
    The variance between captures is estimated from all cylinders that agree, because two or
    three values of one cylinder do not tell it; a cylinder that differs keeps its own, with
    Student's t and Hartung and Knapp's error.
    """
    if len(takes) < 2:
        return None
    base, settled = _base(takes)
    laid, aligned, firsts = _lay(takes, base)
    if len(laid) < 2 and all(a.role == "pooled" for a in aligned):
        return None
    places = _places(laid, limits)
    if settled:
        numbers = takes[0].order.sequence
        places = tuple(replace(p, cylinder=numbers[p.place - 1]) for p in places)
    return Together(
        keys=tuple(t.key for t in laid),
        aligned=aligned,
        places=places,
        cylinders_known=settled,
        candidates=_candidates(places, takes[0].order, (0,) if settled else firsts),
        repeat_sd=_repeat_sd([p for p in places if not p.differs] or list(places)),
        turned_by=_turned(laid) if settled else (),
        cycles=sum(t.cycles for t in laid),
    )


def _base(takes: Sequence[PoolInput]) -> tuple[list[PoolInput], bool]:
    """Return the captures whose places need no looking for, and whether numbers are known."""
    known = [t.turned(t.firsts[0]) for t in takes if t.is_settled]
    if known:
        return known, True
    return [min(takes, key=lambda t: (len(t.firsts) or 99, -t.cycles))], False


def _lay(
    takes: Sequence[PoolInput], base: list[PoolInput]
) -> tuple[list[PoolInput], tuple[Aligned, ...], tuple[int, ...]]:
    """Lay every other capture over the base ones; say which could be, and what stays open."""
    keys = {t.key for t in base}
    usual = np.mean([t.relative for t in base], axis=0)
    laid: dict[int, PoolInput] = {t.key: t for t in base}
    roles: dict[int, str] = dict.fromkeys(keys, "pooled")
    settled = base[0].is_settled
    firsts = () if settled else base[0].firsts
    for take in takes:
        if take.key in keys:
            continue
        shifts = take.firsts if settled else _between(base[0].firsts, take)
        role, shift = _best_shift(take, usual, shifts)
        roles[take.key] = role
        if role == "turned":
            laid[take.key] = take.turned(shift)
            left = {(f - shift) % len(take.order) for f in take.firsts}
            firsts = tuple(f for f in firsts if f in left) or firsts
    ordered = [laid[t.key] for t in takes if t.key in laid]
    return ordered, tuple(Aligned(t.key, roles[t.key]) for t in takes), firsts


def _between(firsts: tuple[int, ...], take: PoolInput) -> tuple[int, ...]:
    """Return by how many places a capture may stand apart from a base that is open itself."""
    n = len(take.order)
    return tuple(sorted({(own - base) % n for own in take.firsts for base in firsts}))


def _best_shift(take: PoolInput, usual: Floats, shifts: Sequence[int]) -> tuple[str, int]:
    """Return a capture's role and the turn under which it lies best over the usual figures."""
    if not shifts:
        return "fits", 0
    error = np.hypot(take.sampling, _ALIGN_ERROR)
    misfit = [
        float((((take.turned(s).relative - usual) / _rolled(error, s)) ** 2).sum()) for s in shifts
    ]
    best = int(np.argmin(misfit))
    # chi-square of n figures: mean n, standard deviation sqrt(2 n)
    n = usual.size
    if misfit[best] > n + 3.1 * math.sqrt(2 * n):
        return "contradicts", shifts[best]
    others = [m for i, m in enumerate(misfit) if i != best]
    if others and min(others) - misfit[best] < _CLEARLY:
        return "fits", shifts[best]
    return "turned", shifts[best]


def _rolled(values: Floats, shift: int) -> Floats:
    return np.roll(values, shift)


def _places(takes: Sequence[PoolInput], limits: Limits) -> tuple[PooledPlace, ...]:
    reported = np.array([t.relative for t in takes])
    scales = _scales(reported)
    values = reported / scales[:, None]
    errors = np.array([np.hypot(t.sampling, _REPEAT_ERROR) for t in takes])
    method = np.sqrt(np.mean([t.method**2 for t in takes], axis=0))
    n = values.shape[1]
    tests = [pooled_mean(values[:, i], errors[:, i]) for i in range(n)]
    differs = [tests[i].p < _BY_CHANCE and _matters(values[:, i], limits) for i in range(n)]
    alike = [i for i in range(n) if not differs[i]]
    common = _common_between(values, errors, alike)
    freedom = values.shape[0] - 1
    means, halves = np.empty(n), np.empty(n)
    for i in range(n):
        between = max(common, tests[i].between)
        own = pooled_mean(values[:, i], errors[:, i], between)
        if differs[i]:
            half = student_t(freedom) * own.error_hk
        else:
            half = student_t(len(alike) * freedom) * own.error
        means[i], halves[i] = own.mean, math.hypot(half, 1.96 * float(method[i]))
    sound = sound_mean(means, limits)[0] if (scales != 1).any() else 1.0
    return tuple(
        PooledPlace(
            place=i + 1,
            cylinder=None,
            figures=tuple(round(float(v), 6) for v in reported[:, i]),
            intervals=tuple(
                (
                    max(0.0, round(float(t.relative[i] - t.half[i]), 6)),
                    round(float(t.relative[i] + t.half[i]), 6),
                )
                for t in takes
            ),
            relative=round(float(means[i]) / sound, 6),
            low=max(0.0, round(float(means[i] - halves[i]) / sound, 6)),
            high=round(float(means[i] + halves[i]) / sound, 6),
            call=limits.call(float(means[i]) / sound, float(means[i] + halves[i]) / sound),
            repeat_sd=float(values[:, i].std(ddof=1)) if freedom else 0.0,
            p=tests[i].p,
            differs=differs[i],
        )
        for i in range(n)
    )


def _scales(values: Floats) -> Floats:
    """Return by how much each capture's figures stand apart as a whole, shape (captures,).

    Figures are relative to the cylinders that a capture calls sound; where captures take
    different ones, all figures of one stand higher or lower and the pattern is the same.
    """
    count, n = values.shape
    if n < _LEAST_TO_SCALE:
        return np.ones(count)
    usual = np.median(values, axis=0)
    clear = usual > LEAST_APART
    if np.count_nonzero(clear) < _LEAST_TO_SCALE:
        return np.ones(count)
    scales = np.median(values[:, clear] / usual[clear], axis=1)
    if not (scales > 0).all():
        return np.ones(count)
    scales = np.where(np.abs(scales - 1.0) > _SCALE_FROM, scales, 1.0)
    # one pattern at two levels lies on one another but for a cylinder or two; else it is no
    # question of level, and scaling would move a change from some cylinders to the others
    apart = np.ptp(values / scales[:, None], axis=0) >= LEAST_APART
    return scales if np.count_nonzero(apart) <= max(1, n // 4) else np.ones(count)


def _matters(values: Floats, limits: Limits) -> bool:
    """Return whether a spread is more than usual scatter and changes what is to be said."""
    apart = float(np.ptp(values))
    calls = {limits.call(float(v)) for v in values}
    return apart >= LEAST_APART and (len(calls) > 1 or apart >= _FAR_APART)


def _common_between(values: Floats, errors: Floats, alike: list[int]) -> float:
    """Return the standard deviation between captures that the cylinders in `alike` share."""
    q = sum(cochran_q(values[:, i], errors[:, i]) for i in alike)
    divisor = sum(spread_of_weights(errors[:, i]) for i in alike)
    return math.sqrt(between_variance(q, len(alike) * (values.shape[0] - 1), divisor))


def _repeat_sd(places: Sequence[PooledPlace]) -> float:
    return math.sqrt(sum(p.repeat_sd**2 for p in places) / len(places))


def _candidates(
    places: Sequence[PooledPlace], order: FiringOrder, firsts: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    low = [p.place - 1 for p in places if p.call == "suspect" and not p.differs]
    n = len(order)
    sets = [tuple(sorted(order.sequence[(i + first) % n] for i in low)) for first in firsts]
    return tuple(dict.fromkeys(sets))


def _turned(takes: Sequence[PoolInput]) -> tuple[tuple[int, int, int], ...]:
    """Find captures with the same figures under other labels."""
    found = []
    first = takes[0]
    shifts = range(len(first.order))
    for other in takes[1:]:
        if float(np.abs(other.relative - first.relative).max()) < 2 * LEAST_APART:
            continue
        role, shift = _best_shift(other, first.relative, shifts)
        if role == "turned" and shift:
            n = len(first.order)
            later = n - shift
            found.append((first.key, other.key, later if later <= n / 2 else later - n))
    return tuple(found)


def is_poolable(report: Report) -> bool:
    """Return whether a report has figures of compression to pool."""
    is_judged = report.verdict != "not judged" and bool(report.estimates)
    return is_judged and report.shows_compressions
