"""Edges laid onto a wheel that is known: which tooth each edge is.

The crank's speed changes smoothly, so the right assignment is the one whose time per place
changes least from edge to edge. It is found by dynamic programming over the wheel's teeth
(Viterbi): an edge is the next tooth, or the one after it where a tooth was missed, or none.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform import Floats

_USUAL_CHANGE = 0.1  # of the logarithm of time per place, from one place to the next
_WORST = 25.0  # in squares of the usual change: no single step costs more
_PASSED_OVER = 40.0  # an edge that is no tooth, or a tooth without an edge
_NEXT, _AFTER_NEXT, _NO_TOOTH = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """Edges that are teeth.

    Parameters
    ----------
    edges
        Which edges, shape (teeth passed,).
    places
        Where on the wheel each stands, counted on over turns, shape (teeth passed,).
    cost
        Mean square change of the logarithm of time per place, in squares of the usual one.
    passed_over
        Share of edges that are no teeth, and of teeth that have no edge.
    """

    edges: NDArray[np.int64]
    places: Floats
    cost: float
    passed_over: float


def align(times_s: Floats, steps: Floats) -> Alignment:
    """Find which tooth each edge is.

    Parameters
    ----------
    times_s
        Edges in order, shape (edges,), at least two.
    steps
        The wheel: places from each tooth to the next around one turn, shape (teeth,).
    """
    return align_each(times_s, [steps])[0]


def align_each(times_s: Floats, wheels: Sequence[Floats]) -> list[Alignment]:
    """Return the same for each of several wheels, worked out together.

    Parameters
    ----------
    times_s
        Edges in order, shape (edges,), at least two.
    wheels
        Places from each tooth to the next, each of shape (teeth,).
    """
    steps = np.concatenate(wheels)
    firsts = np.cumsum([0, *(wheel.size for wheel in wheels)])
    before = _before(firsts)
    before_two = before[before]
    reach = steps[before]  # from the tooth before to this one
    reach_two = reach + steps[before_two]
    one, two = np.log(reach), np.log(reach_two)
    cost = np.zeros(steps.size)
    last_s = np.full(steps.size, times_s[0])
    pace = np.full(steps.size, np.nan)  # logarithm of time per place
    span = np.ones(steps.size)  # places of the last step
    moves = np.full((times_s.size, steps.size), _NO_TOOTH, dtype=np.int8)
    for i in range(1, times_s.size):
        since = np.log(np.maximum(times_s[i] - last_s, 1e-9))
        near, far = since[before] - one, since[before_two] - two
        by_next = cost[before] + _change(near, pace[before], reach, span[before])
        by_far = cost[before_two] + _change(far, pace[before_two], reach_two, span[before_two])
        by_far += _PASSED_OVER
        by_none = cost + _PASSED_OVER
        goes_far = by_far < by_next
        cost = np.where(goes_far, by_far, by_next)
        stays = by_none < cost
        cost = np.where(stays, by_none, cost)
        moves[i] = np.where(stays, _NO_TOOTH, np.where(goes_far, _AFTER_NEXT, _NEXT))
        last_s = np.where(stays, last_s, times_s[i])
        pace = np.where(stays, pace, np.where(goes_far, far, near))
        span = np.where(stays, span, np.where(goes_far, reach_two, reach))
    return [
        _traced(moves[:, first:last], cost[first:last], steps[first:last])
        for first, last in pairwise(firsts.tolist())
    ]


def _before(firsts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return for each tooth of each wheel, one after the other, the tooth before it."""
    before = np.arange(firsts[-1]) - 1
    before[firsts[:-1]] = firsts[1:] - 1
    return before


def _change(now: Floats, before: Floats, reach: Floats, span: Floats) -> Floats:
    """Return what a change of pace costs; over long steps the pace may change more."""
    change = (now - before) / _USUAL_CHANGE
    cost = np.minimum(change**2 / np.maximum((reach + span) / 2, 1.0), _WORST)
    return np.where(np.isnan(cost), 0.0, cost)


def _traced(moves: NDArray[np.int8], cost: Floats, steps: Floats) -> Alignment:
    """Walk back from the cheapest end."""
    teeth = steps.size
    tooth = int(np.argmin(cost))
    edges: list[int] = []
    passed: list[int] = []  # teeth from the edge before
    missed = dropped = 0
    for i in range(moves.shape[0] - 1, 0, -1):
        move = int(moves[i, tooth])
        if move == _NO_TOOTH:
            dropped += 1
            continue
        edges.append(i)
        passed.append(1 + move)
        missed += move
        tooth = (tooth - 1 - move) % teeth
    edges.append(0)
    turn = np.concatenate(([0.0], np.cumsum(steps)))
    count = tooth + np.concatenate(([0], np.cumsum(passed[::-1]))).astype(np.int64)
    places = turn[count % teeth] + turn[-1] * (count // teeth)
    return Alignment(
        np.array(edges[::-1]),
        places - places[0],
        float(cost.min()) / max(1, len(edges)),
        (missed + dropped) / max(1, len(edges)),
    )
