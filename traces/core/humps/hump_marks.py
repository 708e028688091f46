"""Humps in the current as a person sees them: where each peak is and how high it stands."""

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from traces.core.crank import Cranking
from traces.core.report import Hump
from traces.core.waveform import Floats

_LAG_DEG = 15.0
"""The current's peak comes after that of the load: inertia and inductance hold it back."""

_REACH = 0.35  # of the gap to a neighbour: a peak is looked for so far from where it is due


def mark_humps(
    cranking: Cranking,
    order: FiringOrder,
    offset_deg: float,
    cylinders: tuple[int, ...] | None,
) -> tuple[Hump, ...]:
    """Mark every hump of the steady part.

    Parameters
    ----------
    cranking
        Current and crank angle.
    order, offset_deg
        Where load humps are due.
    cylinders
        By position; None where they cannot be known.

    Returns
    -------
    tuple of Hump
        In time order, with the height above the mean of the valleys before and after.
    """
    conditioned = cranking.conditioned
    angle, current = cranking.angle_deg, conditioned.current_a
    rest_a = cranking.span.rest_a or 0.0
    begin, end = cranking.steady.start, cranking.steady.stop - 1
    before = np.roll(order.intervals_deg, 1)
    first = int(np.floor((angle[begin] - offset_deg) / CYCLE_DEG)) - 1
    last = int(np.ceil((angle[end] - offset_deg) / CYCLE_DEG)) + 1
    marked: list[tuple[int, int, float, float]] = []
    for turn in range(first, last + 1):
        for position, tdc_deg in enumerate(order.tdc_angles_deg):
            due_deg = tdc_deg + offset_deg + _LAG_DEG + turn * CYCLE_DEG
            gap_before, gap_after = float(before[position]), order.intervals_deg[position]
            if due_deg - gap_before / 2 < angle[begin] or due_deg + gap_after / 2 > angle[end]:
                continue
            at = _highest(
                angle, current, due_deg - _REACH * gap_before, due_deg + _REACH * gap_after
            )
            left = _lowest(angle, current, due_deg - gap_before, float(angle[at]))
            right = _lowest(angle, current, float(angle[at]), due_deg + gap_after)
            height_a = float(current[at]) - (left + right) / 2
            marked.append((at, position, height_a, turn))
    marked.sort()
    turns = sorted({int(turn) for *_, turn in marked})
    return tuple(
        Hump(
            at_s=conditioned.t0_s + at / conditioned.rate_hz,
            position=position + 1,
            cylinder=cylinders[position] if cylinders else None,
            cycle=turns.index(int(turn)) + 1,
            current_a=float(current[at]) - rest_a,
            height_a=height_a,
        )
        for at, position, height_a, turn in marked
    )


def typical_heights(humps: tuple[Hump, ...], count: int) -> Floats:
    """Return the median height by position, shape (count,); 0 where none was marked."""
    heights: list[list[float]] = [[] for _ in range(count)]
    for hump in humps:
        heights[hump.position - 1].append(hump.height_a)
    return np.array([float(np.median(h)) if h else 0.0 for h in heights])


def _highest(angle: Floats, current: Floats, from_deg: float, to_deg: float) -> int:
    first, last = np.searchsorted(angle, (from_deg, to_deg))
    return int(first) + int(np.argmax(current[first : max(last, first + 1)]))


def _lowest(angle: Floats, current: Floats, from_deg: float, to_deg: float) -> float:
    first, last = np.searchsorted(angle, (from_deg, to_deg))
    return float(current[first : max(int(last), int(first) + 1)].min())
