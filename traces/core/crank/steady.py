"""The steady part of a crank, in whole engine cycles, and its crank angle."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from engines.core.firing import CYCLE_DEG
from traces.core.crank.cranking import Cranking, CrankSpan
from traces.core.crank.cycle_use import (
    LENGTH_WITHIN,
    LEVEL_WITHIN,
    LIKENESS,
    CycleDeviations,
    cycle_uses,
)
from traces.core.crank.marking import counted_from_marks
from traces.core.report import CycleUse
from traces.core.setup import SpanS, is_left_out
from traces.core.sync import Sync, anchored_count
from traces.core.waveform import Conditioned, Floats

_SAME_KIND = 0.6
_MANY = 0.5  # of the cycles from the first to the last like one: fewer are no steady cranking
_COLLAPSED = 0.75  # a cycle under this share of the usual current: the engine runs
_POINTS = 180
LEAST_CYCLES = 3
_END_S = 0.02  # the low-pass knows less at the very end
_STALL_LEVELS = 4.0  # stall current over cranking current where no inrush was seen
_PEAK_TO_STALL = 1.15  # inductance and run-up keep the inrush below the stall current
_LEAST_STALL_LEVELS = 2.5


@dataclass(frozen=True, slots=True)
class Steadiness:
    """What was left out to find the steady part.

    Parameters
    ----------
    whole_cycles
        Engine cycles in the crank after the inrush.
    kept_cycles
        Of these, the most that are alike in level, length and shape. Others may lie between
        them: a valve that sticks now and then, a fan that starts.
    collapsed
        Whether the current gave way at the end while the cycles shortened or lost their
        humps, as when the engine starts.
    likeness
        Least correlation of a kept cycle with the mean of the kept ones.
    drift
        Change of level over the kept cycles, share of the mean.
    cycles
        All of the crank's after the inrush, with their use.
    left_out
        How many of the whole cycles a person left out.
    """

    whole_cycles: int
    kept_cycles: int
    collapsed: bool
    likeness: float
    drift: float
    cycles: tuple[CycleUse, ...] = ()
    left_out: int = 0


def settle(
    conditioned: Conditioned,
    span: CrankSpan,
    count: Floats,
    sync: Sync,
    left_out_s: tuple[SpanS, ...] = (),
) -> tuple[Cranking | None, Steadiness]:
    """Choose the steady cycles and work out the crank angle.

    Parameters
    ----------
    conditioned, span
        The current, and where the starter cranks.
    count
        Engine cycles passed at each sample of `conditioned`, shape (samples,).
    sync
        Its events anchor the angle where they keep to the cycle.
    left_out_s
        Stretches whose cycles a person left out.

    Returns
    -------
    tuple
        The cranking (None where not even one cycle is steady), and what was left out.
    """
    times_s = conditioned.times_s
    anchored = sync.keeps_to_cycle
    if sync.by_hand:
        count = counted_from_marks(sync, times_s, count)
    elif anchored:
        count, _ = anchored_count(sync, times_s, count)
    first = conditioned.index_of(span.settled_from_s)
    last = conditioned.index_of(span.to_s - _END_S)
    if not anchored:
        count = count - count[first]
    begin, end = float(count[first]), float(count[max(last, first)])
    whole = int(np.floor(end - begin + 1e-6))
    if whole < 1:
        return None, Steadiness(0, 0, collapsed=False, likeness=0.0, drift=0.0)
    edges = begin + np.arange(whole + 1, dtype=np.float64)
    cycles = _folded(conditioned.current_a, count, edges)
    edges_s = np.interp(edges, count, times_s)
    lengths_s = np.diff(edges_s)
    wanted = np.array([not is_left_out(left_out_s, *ends) for ends in pairwise(edges_s)])
    keep, compared = _alike_of(cycles, lengths_s, wanted)
    kept = cycles[keep]
    collapsed = _collapsed(cycles, keep, lengths_s) if keep.size else False
    uses = cycle_uses(
        edges_s, keep, compared, collapsed=collapsed, start_seen=span.start_seen, wanted=wanted
    )
    left_out = whole - int(np.count_nonzero(wanted))
    if keep.size == 0:
        nothing = Steadiness(whole, 0, collapsed=False, likeness=0.0, drift=0.0)
        return None, replace(nothing, cycles=uses, left_out=left_out)
    steadiness = Steadiness(
        whole_cycles=whole,
        kept_cycles=kept.shape[0],
        collapsed=collapsed,
        likeness=float(_likeness(kept).min()),
        drift=_drift(kept),
        cycles=uses,
        left_out=left_out,
    )
    from_s, to_s = float(edges_s[keep[0]]), float(edges_s[keep[-1] + 1])
    if keep[-1] + 1 == whole and not is_left_out(left_out_s, to_s, float(times_s[last])):
        # the part of a cycle at the end is as good as the last whole one
        to_s = float(times_s[last])
    rest_a = span.rest_a or 0.0
    stall_a = _stall(span)
    cranking = Cranking(
        conditioned=conditioned,
        span=span,
        steady_from_s=from_s,
        steady_to_s=to_s,
        cycle_s=float(lengths_s[keep].mean()),
        cycle_count=count,
        cycle_starts=edges[keep],
        angle_deg=crank_angle(conditioned.current_a - rest_a, count, stall_a),
        stall_a=stall_a,
        anchored=anchored,
        left_out_s=left_out_s,
    )
    if anchored:
        cranking = _events_on_zero(cranking, sync)
    return cranking, steadiness


def crank_angle(current_a: Floats, count: Floats, stall_a: float) -> Floats:
    """Return the crank angle with the speed inside a cycle taken from the current.

    A motor's speed falls with its current: w = w0 (1 - I / I_stall). Over a whole cycle the
    angle follows `count`.

    Parameters
    ----------
    current_a, count
        Shape (samples,): amps above rest, engine cycles passed.
    stall_a
        Current at which the starter stands still.

    Returns
    -------
    Floats
        Degrees, shape (samples,), rising.
    """
    pace = np.gradient(count)
    speed = 1.0 - np.clip(current_a / stall_a, -0.5, 0.9)
    window = max(3, round(1.0 / max(float(np.median(pace)), 1e-6)))
    usual = scipy.ndimage.uniform_filter1d(speed, min(window, speed.size), mode="nearest")
    steps = pace * speed / usual
    angle = np.concatenate(([0.0], np.cumsum((steps[1:] + steps[:-1]) / 2)))
    # the running mean is only nearly a cycle: take the slow rest out
    off = scipy.ndimage.uniform_filter1d(angle - count, min(window, speed.size), mode="nearest")
    return np.asarray(CYCLE_DEG * (angle - off), dtype=np.float64)


def _events_on_zero(cranking: Cranking, sync: Sync) -> Cranking:
    """Turn the angle so that sync events stand at multiples of 720 (or 360) degrees."""
    turn = CYCLE_DEG / 2 if sync.state == "every-360" else CYCLE_DEG
    at = np.interp(sync.events_s, cranking.conditioned.times_s, cranking.angle_deg)
    inside = (sync.events_s >= cranking.steady_from_s) & (sync.events_s <= cranking.steady_to_s)
    at = at[inside] if inside.any() else at
    off = np.angle(np.exp(2j * np.pi * at / turn).mean()) / (2 * np.pi) * turn
    return replace(cranking, angle_deg=cranking.angle_deg - float(off))


def _stall(span: CrankSpan) -> float:
    if span.inrush_peak_a is None:
        return _STALL_LEVELS * span.level_a
    return max(_PEAK_TO_STALL * span.inrush_peak_a, _LEAST_STALL_LEVELS * span.level_a)


def _folded(current_a: Floats, count: Floats, edges: Floats) -> Floats:
    """Return the current of each cycle on an even grid, shape (cycles, points)."""
    at = edges[:-1, None] + np.arange(_POINTS) / _POINTS
    return np.asarray(np.interp(at, count, current_a), dtype=np.float64)


def _alike_of(
    cycles: Floats, lengths_s: Floats, wanted: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], CycleDeviations]:
    """Return which of the cycles wanted are alike; the others are held against nothing."""
    at = np.flatnonzero(wanted)
    nothing = np.full(wanted.size, np.nan)
    if at.size == 0:
        return at, CycleDeviations(nothing, nothing, nothing)
    keep, some = _alike(cycles[at], lengths_s[at])
    level, length, likeness = nothing.copy(), nothing.copy(), nothing.copy()
    level[at], length[at], likeness[at] = some.level, some.length, some.likeness
    return at[keep], CycleDeviations(level, length, likeness)


def _alike(cycles: Floats, lengths_s: Floats) -> tuple[NDArray[np.int64], CycleDeviations]:
    """Return which cycles are alike, in order: the longest run, or if that is short, the most.

    Beside it what each was held against to find them.
    """
    levels = cycles.mean(axis=1)
    later = cycles[cycles.shape[0] // 4 :] if cycles.shape[0] > 3 else cycles
    usual = np.median(later, axis=0)
    compared = CycleDeviations(
        level=levels / float(usual.mean()),
        length=lengths_s / float(np.median(lengths_s)),
        likeness=_likeness(cycles, usual),
    )
    run = _longest_run(compared.alike)
    if run.size >= LEAST_CYCLES:
        return run, compared
    flat = cycles - levels[:, None]
    flat /= np.maximum(np.linalg.norm(flat, axis=1), 1e-12)[:, None]
    likeness = flat @ flat.T
    pairs = likeness > LIKENESS
    pairs &= np.abs(levels[:, None] / levels - 1.0) < LEVEL_WITHIN
    pairs &= np.abs(lengths_s[:, None] / lengths_s - 1.0) < LENGTH_WITHIN
    most = pairs.sum(axis=1)
    middle = int(np.argmax(np.where(most == most.max(), likeness.sum(axis=1), -np.inf)))
    keep = np.flatnonzero(pairs[middle])
    scattered = keep.size < _MANY * (keep[-1] + 1 - keep[0])
    if scattered or _are_two_kinds(cycles, keep):
        return run, compared
    return keep, CycleDeviations(
        level=levels / levels[middle],
        length=lengths_s / lengths_s[middle],
        likeness=likeness[middle],
    )


def _are_two_kinds(cycles: Floats, keep: NDArray[np.int64]) -> bool:
    """Return whether the cycles left out between differ from the others in one and the same way.

    Loads that come on do so at any time; a valve that sticks now and then makes a second kind
    of cycle, and the mean of one kind says nothing of the other.
    """
    between = np.setdiff1d(np.arange(keep[0], keep[-1]), keep)
    if between.size < 2:
        return False
    other = cycles[between] - cycles[keep].mean(axis=0)
    flat = other - other.mean(axis=1, keepdims=True)
    flat /= np.maximum(np.linalg.norm(flat, axis=1), 1e-12)[:, None]
    return bool(float(np.median((flat @ flat.T)[np.triu_indices(between.size, 1)])) > _SAME_KIND)


def _longest_run(good: NDArray[np.bool_]) -> NDArray[np.int64]:
    labels, count = scipy.ndimage.label(good)
    if count == 0:
        return np.empty(0, dtype=np.int64)
    longest = int(np.argmax(np.bincount(labels)[1:])) + 1
    return np.asarray(np.flatnonzero(labels == longest), dtype=np.int64)


def _likeness(cycles: Floats, usual: Floats | None = None) -> Floats:
    usual = np.median(cycles, axis=0) if usual is None else usual
    flat = usual - usual.mean()
    each = cycles - cycles.mean(axis=1, keepdims=True)
    size = np.sqrt((each**2).sum(axis=1) * float(flat @ flat))
    return np.asarray(each @ flat / np.maximum(size, 1e-12), dtype=np.float64)


def _collapsed(cycles: Floats, keep: NDArray[np.int64], lengths_s: Floats) -> bool:
    after = int(keep[-1]) + 1
    tail = cycles[after:]
    if tail.shape[0] == 0:
        return False
    level = float(cycles[keep].mean())
    falls = float(tail.mean(axis=1).min()) < _COLLAPSED * level
    shortens = float(lengths_s[after:].min()) < (1 - LENGTH_WITHIN) * float(lengths_s[keep].mean())
    flattens = float(tail.std(axis=1).min()) < 0.5 * float(cycles[keep].std(axis=1).mean())
    return falls and (shortens or flattens)


def _drift(cycles: Floats) -> float:
    levels = cycles.mean(axis=1)
    if levels.size < 3:
        return 0.0
    slope, _ = np.polyfit(np.arange(levels.size), levels, 1)
    return float(slope * (levels.size - 1) / levels.mean())
