"""Each engine cycle by itself: how far its compressions are from the mean cycle's."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from traces.core.cranking import Cranking
from traces.core.twin.fit import Fit, Floats
from traces.core.twin.model import STEPS

POINTS = 240
"""Points of a cycle: four and more to the period of the low-pass at any cranking speed."""

_SHARE_SPREAD = 0.3
_START_SPREAD = 1.0
_SIGMA = 0.02

_LENGTH_WITHIN = 0.15  # a cycle whose length differs more is run-up or something else
_LEVEL_WITHIN = 0.30
_LOW_BELOW = 0.80
_LEAST_SWING = 0.20
_BESIDE = 0.6
_LEAST_CYCLES = 4


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


def folded_whole(cranking: Cranking) -> Floats:
    """Cut all of the crank after the inrush; cycles of another length or level left out."""
    count, conditioned, span = cranking.cycle_count, cranking.conditioned, cranking.span
    begin, end = (
        float(np.interp(t, conditioned.times_s, count)) for t in (span.settled_from_s, span.to_s)
    )
    starts = np.arange(int(np.ceil(begin)), int(np.floor(end)))
    cycles = _cut(cranking, starts)
    edges_s = np.interp(np.append(starts, starts[-1:] + 1), count, conditioned.times_s)
    usual_a = float(folded(cranking).mean())
    good = np.abs(np.diff(edges_s) / cranking.cycle_s - 1) < _LENGTH_WITHIN
    good &= np.abs(cycles.mean(axis=1) / usual_a - 1) < _LEVEL_WITHIN
    return np.asarray(cycles[good])


def _cut(cranking: Cranking, starts: np.ndarray[tuple[int], np.dtype[np.int_]]) -> Floats:
    return _at(cranking, starts[:, None] + np.arange(POINTS) / POINTS)


def _at(cranking: Cranking, counts: Floats) -> Floats:
    rest_a = cranking.span.rest_a or 0.0
    current_a = cranking.conditioned.current_a - rest_a
    return np.asarray(np.interp(counts, cranking.cycle_count, current_a), dtype=np.float64)


def courses(relative: Floats) -> list[Course]:
    """Name the cylinders that are low in some cycles and well in others.

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
    changes = np.linalg.solve(curvature, design.T @ rows.T / _SIGMA**2)
    return np.asarray(changes.T[:, :n] * found.lobes.peaks_by_share, dtype=np.float64)
