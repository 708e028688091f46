"""Each engine cycle by itself: how far its compressions are from the mean cycle's."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from traces.core.crank import LEFT_OUT, Cranking, CycleDeviations
from traces.core.report import CycleUse
from traces.core.twin.fitting import Fit, Floats
from traces.core.twin.model import STEPS, lobes_of
from traces.core.twin.parameters import FRICTION
from traces.core.twin.single_cycle import CycleStart, simulate_one_cycle

POINTS = 240
"""Points of a cycle: four and more to the period of the low-pass at any cranking speed."""

_SHARE_SPREAD = 0.3
_START_SPREAD = 1.0
_SIGMA = 0.02
_LENGTH_SIGMA = 0.04  # a battery gives way: the same current later turns more slowly
_ROUNDS = 8
_ENOUGH = 0.5
_MISSED = 3.0  # squared sigmas a point
_EMPTIED = 0.1
_SOUND_FROM = 0.5
_LEVEL_QUANTILE = 0.6
_LEAST_LEVEL = 0.2
_EDGE = 8  # points beside a cut, which hold what the low-pass brings over from the next cycle
_EDGE_WEIGHT = 0.3

_LENGTH_WITHIN = 0.40  # a cycle whose length differs more is run-up or something else
_LEVEL_WITHIN = 0.40
_LOW_BELOW = 0.80
_LEAST_SWING = 0.20
_BESIDE = 0.6
_LEAST_CYCLES = 4
_MOST_CHANGING = 1 / 3  # of the cylinders: where more seem to change, the cycles are misread


@dataclass(frozen=True, slots=True)
class Course:
    """A cylinder that is low in some cycles only.

    Parameters
    ----------
    index
        0-based place in the firing sequence.
    low, cycles
        In how many cycles, of how many.
    kind
        `first`: only at the beginning of the crank; `now and then` otherwise.
    """

    index: int
    low: int
    cycles: int
    kind: Literal["first", "now and then"]


def folded(cranking: Cranking) -> Floats:
    """Cut the cycles that are alike at equal shares of their time.

    Returns
    -------
    Floats
        Amps above rest, shape (cycles, POINTS).
    """
    grid = np.arange(POINTS) / POINTS
    # whole cycles need not begin at 0: each is cut where the first begins
    return _at(cranking, cranking.cycle_starts[:, None] + (grid - cranking.cycle_starts[0]) % 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class WholeCycles:
    """The cycles of all of the crank after the inrush, steady part or not.

    Parameters
    ----------
    current_a
        Amps above rest at equal shares of each cycle's time, shape (cycles, POINTS).
    lengths
        Of each over the usual cycle, shape (cycles,).
    uses
        All cycles of the crank with their use; the rows above are the used ones.
    """

    current_a: Floats
    lengths: Floats
    uses: tuple[CycleUse, ...] = ()


def folded_whole(cranking: Cranking, before: float = 0.0) -> WholeCycles:
    """Cut all of the crank; cycles of quite another length or level are left out.

    Parameters
    ----------
    before
        Share of a cycle by which each begins before its sync event.
    """
    count, conditioned, span = cranking.cycle_count, cranking.conditioned, cranking.span
    begin, end = (
        float(np.interp(t, conditioned.times_s, count)) for t in (span.settled_from_s, span.to_s)
    )
    whole = np.arange(math.ceil(begin + before), math.floor(end + before), dtype=np.float64)
    starts = whole - before
    cycles = _cut(cranking, starts)
    edges_s = np.interp(np.append(starts, starts[-1:] + 1), count, conditioned.times_s)
    usual_a = float(folded(cranking).mean())
    lengths = np.diff(edges_s) / cranking.cycle_s
    levels = cycles.mean(axis=1) / usual_a
    good = np.abs(lengths - 1) < _LENGTH_WITHIN
    good &= np.abs(levels - 1) < _LEVEL_WITHIN
    compared = CycleDeviations(levels, lengths, np.ones_like(levels))
    left_out = np.array([cranking.is_left_out(*e) for e in pairwise(edges_s)], dtype=np.bool_)
    uses = tuple(
        CycleUse(
            float(edges_s[i]),
            float(edges_s[i + 1]),
            *(LEFT_OUT if left_out[i] else () if good[i] else compared.why(i)),
        )
        for i in range(good.size)
    )
    good &= ~left_out
    return WholeCycles(cycles[good], lengths[good], uses)


def _cut(cranking: Cranking, starts: Floats) -> Floats:
    return _at(cranking, starts[:, None] + np.arange(POINTS) / POINTS)


def _at(cranking: Cranking, counts: Floats) -> Floats:
    rest_a = cranking.span.rest_a or 0.0
    current_a = cranking.conditioned.current_a - rest_a
    return np.asarray(np.interp(counts, cranking.cycle_count, current_a), dtype=np.float64)


def courses(relative: Floats) -> list[Course]:
    """Name the cylinders that are low in some cycles and well in others.

    Faults that come and go are rare: where more than a third of the cylinders (or more than
    one, of two) seem to have one, none is named.

    Parameters
    ----------
    relative
        Relative compression, shape (cycles, n), in time order.
    """
    cycles = relative.shape[0]
    swings = np.ptp(relative, axis=0)
    found: list[Course] = []
    if cycles < _LEAST_CYCLES:
        return found
    for i, column in enumerate(relative.T):
        # a large change in one cylinder shows a little in its neighbours
        if swings[i] < max(_LEAST_SWING, _BESIDE * swings.max()) or column.min() > _LOW_BELOW:
            continue
        low = column < (column.min() + column.max()) / 2
        early = bool(np.flatnonzero(low)[-1] < np.flatnonzero(~low)[0])
        kind: Literal["first", "now and then"] = "first" if early else "now and then"
        found.append(Course(i, int(low.sum()), cycles, kind))
    if len(found) > max(1.0, _MOST_CHANGING * relative.shape[1]):
        return []
    return found


def per_cycle_changes(found: Fit, cycles: Floats) -> Floats:
    """Change of each cylinder's peak pressure in each cycle, atmospheres, shape (C, n).

    Linear about the fitted twin: a cycle's current answers to its cylinders, to a friction of
    its own and to the speed it starts with.
    """
    state, profile = found.state, found.profile
    n = profile.cylinders
    loads = np.concatenate((state.loads[:, found.known.shares], np.ones((STEPS, 1))), axis=1)
    answers = state.linear.answers(state.linear.by_load[:, :, None] * loads[:, None, :])
    design = profile.observe(state.orbit, answers, state.values)[1]
    design = design[:, [*range(2, n + 3), 0, 1]]
    spread = np.full(n + 3, _START_SPREAD)
    spread[:n] = _SHARE_SPREAD
    curvature = design.T @ design / _SIGMA**2 + np.diag(spread**-2)
    rows = cycles - profile.current
    changes = _solved(curvature, design.T @ rows.T / _SIGMA**2)
    if changes is None:
        # squared, slopes this steep drown the spreads; side by side they do not
        stacked = np.concatenate((design / _SIGMA, np.diag(1 / spread)))
        wanted = np.concatenate((rows.T / _SIGMA, np.zeros((n + 3, len(rows)))))
        changes = np.asarray(np.linalg.lstsq(stacked, wanted)[0], dtype=np.float64)
    return np.asarray(changes.T[:, :n] * found.lobes.peaks_by_share, dtype=np.float64)


def cycles_marched(found: Fit, cranking: Cranking, level_a: float) -> tuple[Floats, Floats]:
    """Measure each cylinder in each cycle of the crank.

    Every cycle is marched by itself with the fitted engine: its own peak shares, friction and
    speed at its start. So a cylinder that is empty in one cycle is found empty, which no slope
    about the mean cycle tells. A cycle begins half-way between the last compression and the
    first, so that each compression lies in one cycle.

    Parameters
    ----------
    found
        Fitted to the mean cycle.
    level_a
        Mean current of the fitted cycle.

    Returns
    -------
    tuple of Floats
        Peak pressures over atmosphere, shape (C, n); and the cycles, turned so that they begin
        where the fitted one does, over its mean current, shape (C, POINTS).
    """
    profile = found.profile
    usual = _usual(found)
    whole = folded_whole(cranking, usual.before)
    cycles = whole.current_a / level_a
    marched = [
        _marched(found, usual, c, float(t)) for c, t in zip(cycles, whole.lengths, strict=True)
    ]
    peaks = _levelled(np.reshape(marched, (-1, profile.cylinders)), found.lobes.peaks)
    grid = np.arange(POINTS) / POINTS
    turned = [np.interp(grid + usual.before, grid, c, period=1.0) for c in cycles]
    turned_a = np.reshape(np.asarray(turned, dtype=np.float64), (-1, POINTS))
    return peaks, turned_a


def cycles_used(found: Fit, cranking: Cranking) -> tuple[tuple[CycleUse, ...], float]:
    """Return the cycles that `cycles_marched` cuts, and by what share each begins early."""
    before = _usual(found).before
    return folded_whole(cranking, before).uses, before


def _usual(found: Fit) -> CycleStart:
    gap_deg = 720.0 - float(found.profile.tdc_deg[-1])
    return CycleStart.of(found.state, round(gap_deg / 2 / 720 * STEPS))


def _levelled(peaks: Floats, usual: Floats) -> Floats:
    """Bring all cycles to one level: what all cylinders have in common is no unevenness.

    Parameters
    ----------
    peaks
        By cycle and cylinder, shape (C, n).
    usual
        Of the fitted cycle, shape (n,).
    """
    if not usual.max() > 0:
        return peaks  # nothing is compressed, so there is no level to bring them to
    sound = usual >= _SOUND_FROM * usual.max()
    # few are low at a time: somewhat above the middle none of the low ones counts
    levels = np.quantile(peaks[:, sound] / usual[sound], _LEVEL_QUANTILE, axis=1, keepdims=True)
    return np.asarray(peaks / np.maximum(levels, _LEAST_LEVEL), dtype=np.float64)


def _marched(found: Fit, usual: CycleStart, cycle: Floats, length: float) -> Floats:
    """Return the peaks of one cycle; where it is missed by much, each cylinder is tried empty."""
    shares = found.state.values[found.known.shares]
    best_cost, best = _settled(found, usual, cycle, length, shares)
    if best_cost > _MISSED * cycle.size:
        for i in range(shares.size):
            emptied = shares.copy()
            emptied[i] = _EMPTIED
            cost, peaks = _settled(found, usual, cycle, length, emptied)
            if cost < best_cost:
                best_cost, best = cost, peaks
    return best


def _settled(
    found: Fit, usual: CycleStart, cycle: Floats, length: float, shares: Floats
) -> tuple[float, Floats]:
    """Fit one cycle from peak shares on; return its cost and its peaks."""
    profile, known = found.profile, found.known
    n = profile.cylinders
    values = found.state.values.copy()
    usual_shares = values[known.shares].copy()
    values[known.shares] = shares
    weights = np.full(cycle.size + 1, 1 / _SIGMA)
    weights[:_EDGE] *= _EDGE_WEIGHT
    weights[-1 - _EDGE : -1] *= _EDGE_WEIGHT
    weights[-1] = 1 / _LENGTH_SIGMA
    spread = np.full(n + 3, _START_SPREAD)
    spread[:n] = _SHARE_SPREAD
    target = np.append(cycle, length)
    state = _Single(values[known.shares], float(values[FRICTION]), np.array(usual.start))
    cost, best, step = np.inf, state, np.zeros(n + 3)
    for _ in range(_ROUNDS):
        values[known.shares], values[FRICTION] = state.shares, state.friction
        # a cylinder tried empty, or a cycle half bridged, may stall the crank beyond all figures
        with np.errstate(all="ignore"):
            shown, slopes = simulate_one_cycle(usual, profile, values, state.start, known.shares)
            design = slopes * weights[:, None]
            curvature = design.T @ design + np.diag(spread**-2)
            rest = (target - shown) * weights
            pulled = design.T @ rest
        moved = state.moved_from(usual_shares, found, usual)
        new = float(rest @ rest + np.sum((moved / spread) ** 2))
        if new < cost:
            gained, cost, best = cost - new, new, state
            if gained < _ENOUGH:
                break
            found_step = _solved(curvature, pulled - moved / spread**2)
            if found_step is None:
                break
            step = found_step
        else:
            step = step / 3
        state = best.stepped(step)
    values[known.shares] = best.shares
    return cost, lobes_of(profile, values).peaks


def _solved(curvature: Floats, pulled: Floats) -> Floats | None:
    """Return the step that a curvature and a pull lead to; None where they lead nowhere."""
    if not (np.isfinite(curvature).all() and np.isfinite(pulled).all()):
        return None
    try:
        return np.asarray(np.linalg.solve(curvature, pulled), dtype=np.float64)
    except np.linalg.LinAlgError:
        return None


@dataclass(frozen=True, slots=True, eq=False)
class _Single:
    """What one cycle has of its own: peak shares, friction, squared speeds at its start."""

    shares: Floats
    friction: float
    start: Floats

    def stepped(self, step: Floats) -> "_Single":
        n = self.shares.size
        return _Single(
            np.clip(self.shares + step[:n], 0.0, 1.0),
            self.friction + float(step[n]),
            np.maximum(self.start + step[n + 1 :], 1e-3),
        )

    def moved_from(self, usual_shares: Floats, found: Fit, usual: CycleStart) -> Floats:
        """Return how far it is from the fitted cycle, shape (n + 3,)."""
        friction = self.friction - float(found.state.values[FRICTION])
        return np.concatenate(
            (self.shares - usual_shares, [friction], self.start - np.array(usual.start))
        )
