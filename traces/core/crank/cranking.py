"""Where in the recording the starter cranks the engine, and where it does so steadily."""

from dataclasses import dataclass, replace

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.setup import SpanS, is_left_out
from traces.core.waveform import LEAST_CRANK_S, Conditioned, Floats, Rest, find_rest

_SMOOTH_S = 0.12  # about a hump: valleys between humps do not end the crank
_ON_SHARE = 0.35
_BRIDGE_S = 0.35
_REST_S = 0.03
_EDGE_S = 0.02
_AFTER_S = (0.1, 0.5)
_LEAST_SLOPE_S = 0.2
_LEAST_AFTER_S = 0.15
_UNLOADED_SHARE = 0.15
_LEAST_PART_S = 0.1
_INRUSH_S = 0.35
"""Inrush and first run-up: the starter is far from its steady speed (from a cold stop)."""


@dataclass(frozen=True, slots=True, eq=False)
class CrankSpan:
    """The part of the recording in which the starter draws current.

    Parameters
    ----------
    from_s, to_s
        In the file's own time.
    start_seen, end_seen
        Whether the recording holds a rest before and after.
    rest_a
        Median current at rest before the crank, or after it where the zero is far off and the
        file begins in mid-crank; None where there is none.
    inrush_peak_a
        Largest current above rest just after the start; None where the start is not in the file.
    level_a
        Median current of the crank above rest.
    after_a
        Median current above rest just after the crank; None where too little was recorded.
        A running engine leaves the starter spinning at a fraction of its cranking current.
    drifted_a
        How far the zero would have moved by then, had it gone on as before the crank.
    """

    from_s: float
    to_s: float
    start_seen: bool
    end_seen: bool
    rest_a: float | None
    inrush_peak_a: float | None
    level_a: float
    after_a: float | None = None
    drifted_a: float = 0.0

    @property
    def ran_on(self) -> bool:
        """Whether the starter went on drawing some current after the crank, unloaded."""
        if self.after_a is None:
            return False
        drawn_a = min(abs(self.after_a), abs(self.after_a - self.drifted_a))
        return self.after_a > 0 and drawn_a > _UNLOADED_SHARE * self.level_a

    @property
    def settled_from_s(self) -> float:
        """From where on inrush and run-up are over at the soonest."""
        return self.from_s + (_INRUSH_S if self.start_seen else _EDGE_S)


def find_crank(conditioned: Conditioned, near_s: SpanS | None = None) -> CrankSpan | None:
    """Find the longest crank in the recording, or the one that fills most of a stretch.

    Returns
    -------
    CrankSpan or None
        None where the current never stands clearly above rest (in that stretch).
    """
    current = conditioned.current_a
    rate_hz = conditioned.rate_hz
    level = scipy.ndimage.uniform_filter1d(
        current, max(3, round(_SMOOTH_S * rate_hz)), mode="nearest"
    )
    # the recording may be mostly rest or mostly crank: measure between its two levels
    shortly = max(0.90, 1.0 - LEAST_CRANK_S * rate_hz / current.size)
    low, high, top = (float(v) for v in np.quantile(level, (0.01, 0.90, shortly)))
    if high < low + _ON_SHARE * (top - low):
        high = top  # the crank is less than a tenth of a long recording
    known = find_rest(current, rate_hz)
    otherwise = known.level_a if known else 0.0
    rest = low if low < _ON_SHARE * high else otherwise
    on = level > rest + _ON_SHARE * (high - rest)
    on = (
        scipy.ndimage.binary_closing(
            np.pad(on, 1, mode="edge"), np.ones(max(3, round(_BRIDGE_S * rate_hz)), dtype=bool)
        )[1:-1]
        | on
    )
    labels, count = scipy.ndimage.label(on)
    if count == 0 or high <= (rest if known else 0.0):
        return None
    sizes = np.bincount(labels, minlength=count + 1)[1:]
    if near_s is not None:
        times_s = conditioned.times_s
        inside = (times_s >= near_s[0]) & (times_s <= near_s[1])
        sizes = np.bincount(labels[inside], minlength=count + 1)[1:]
        if not sizes.any():
            return None
    at = np.flatnonzero(labels == int(np.argmax(sizes)) + 1)
    first, last = int(at[0]), int(at[-1])
    before = np.flatnonzero(labels[:first])
    # an earlier crank is no rest
    since = int(before[-1]) + round(_SMOOTH_S * rate_hz) if before.size else 0
    return _described(conditioned, min(since, first), first, last, known)


def narrowed(conditioned: Conditioned, span: CrankSpan, chosen_s: SpanS) -> CrankSpan | None:
    """Return the part of a crank that lies in a stretch a person chose.

    What was seen outside of it is still known: the rest, the inrush, how the crank ended.

    Returns
    -------
    CrankSpan or None
        None where the stretch holds nothing of the crank but inrush and run-up.
    """
    from_s, to_s = max(span.from_s, chosen_s[0]), min(span.to_s, chosen_s[1])
    start_seen = span.start_seen and from_s == span.from_s
    if span.start_seen and not start_seen:
        from_s = max(from_s, span.settled_from_s - _EDGE_S)
    part = conditioned.current_a[conditioned.index_of(from_s) : conditioned.index_of(to_s) + 1]
    if to_s - from_s < _LEAST_PART_S or part.size == 0:
        return None
    return replace(
        span,
        from_s=from_s,
        to_s=to_s,
        start_seen=start_seen,
        end_seen=span.end_seen and to_s == span.to_s,
        level_a=float(np.median(part)) - (span.rest_a or 0.0),
    )


def _described(
    conditioned: Conditioned, since: int, first: int, last: int, known: Rest | None
) -> CrankSpan:
    current, rate_hz = conditioned.current_a, conditioned.rate_hz
    start_seen = first - since >= _REST_S * rate_hz
    if start_seen:  # the running mean saw the inrush before it came
        rest = float(np.median(current[since : max(since + 1, first - round(0.06 * rate_hz))]))
        reach = current[first : first + round(_INRUSH_S * rate_hz)]
        first += int(np.argmax(reach > rest + 0.2 * (reach.max() - rest)))
    end_seen = current.size - 1 - last >= _REST_S * rate_hz
    before = current[since : max(since + 1, first - round(0.03 * rate_hz))]
    rest_a = float(np.median(before)) if start_seen and before.size >= 5 else None
    if not start_seen and known is not None and known.is_far_off:
        rest_a = known.level_a
    zero_a = rest_a or 0.0
    peak_a = None
    if start_seen:
        reach = current[first : first + round(_INRUSH_S * rate_hz)]
        only = since == 0 and first > 0
        peak_a = max(float(reach.max()), conditioned.peak_a if only else 0.0) - zero_a
    level_a = float(np.median(current[first : last + 1])) - zero_a
    after = current[last + round(_AFTER_S[0] * rate_hz) : last + round(_AFTER_S[1] * rate_hz)]
    enough = after.size >= _LEAST_AFTER_S * rate_hz
    return CrankSpan(
        from_s=conditioned.t0_s + first / rate_hz,
        to_s=conditioned.t0_s + last / rate_hz,
        start_seen=start_seen,
        end_seen=end_seen,
        rest_a=rest_a,
        inrush_peak_a=peak_a,
        level_a=level_a,
        after_a=float(np.median(after)) - zero_a if enough else None,
        drifted_a=_drifted(before, last - first, rate_hz)
        if start_seen and rest_a is not None
        else 0.0,
    )


def _drifted(before: Floats, crank: int, rate_hz: float) -> float:
    """Carry the slope of the rest before a crank on to the rest after it."""
    if before.size < _LEAST_SLOPE_S * rate_hz:
        return 0.0
    slope, _ = np.polyfit(np.arange(before.size), before, 1)
    ahead = before.size / 2 + crank + np.mean(_AFTER_S) * rate_hz
    return float(slope * ahead)


@dataclass(frozen=True, slots=True, eq=False)
class Cranking:
    """Steady cranking with its crank angle: what every method of judging starts from.

    Parameters
    ----------
    conditioned
        The current the rest refers to.
    span
        The whole crank with inrush and rest level.
    steady_from_s, steady_to_s
        The part to judge: whole engine cycles, run-up and engine start left out.
    cycle_s
        Mean length of an engine cycle (720 degrees) in the steady part.
    cycle_count
        Share of cycles passed at each sample of `conditioned`, shape (samples,): grows by
        one each 720 degrees at the mean speed of that cycle.
    cycle_starts
        Counts at which the cycles begin that are alike and may be averaged, shape (cycles,),
        whole numbers apart. Cycles in between are left out: a valve stuck, a load came on.
    angle_deg
        Crank angle at each sample, shape (samples,): 720 x `cycle_count`, with the speed
        inside a cycle taken from the current. With a sync 0, 720, ... are its events; else
        0 is the beginning of the steady part.
    stall_a
        Current at which the starter would stand still, as assumed for `angle_deg`.
    anchored
        Whether events, recorded or marked by hand, fix the angle.
    left_out_s
        Stretches whose cycles a person left out.
    """

    conditioned: Conditioned
    span: CrankSpan
    steady_from_s: float
    steady_to_s: float
    cycle_s: float
    cycle_count: Floats
    cycle_starts: Floats
    angle_deg: Floats
    stall_a: float
    anchored: bool
    left_out_s: tuple[SpanS, ...] = ()

    def __post_init__(self) -> None:
        self.cycle_count.setflags(write=False)
        self.cycle_starts.setflags(write=False)
        self.angle_deg.setflags(write=False)

    @property
    def rpm(self) -> float:
        """Mean crank speed of the steady part: two turns a cycle."""
        return 120.0 / self.cycle_s

    def is_left_out(self, from_s: float, to_s: float) -> bool:
        """Return whether a person left out the engine cycle that lies between two times."""
        return is_left_out(self.left_out_s, from_s, to_s)

    @property
    def steady(self) -> slice:
        """Samples of the steady part."""
        return slice(
            self.conditioned.index_of(self.steady_from_s),
            self.conditioned.index_of(self.steady_to_s) + 1,
        )
