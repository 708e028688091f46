"""The stretch of cranking that mean figures are taken over, and the clamp's zero in it."""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing

from traces.core.crank import CrankSpan
from traces.core.preparation import Preparation
from traces.core.starter.speed import Cycles, whole_cycles
from traces.core.waveform import Conditioned, Floats

RUN_UP_S = 0.8
"""From the start: inrush and run-up are over (from a cold stop, warm)."""

_END_S = 0.02
_LEAST_S = 0.3
_QUIET_SHARE = 0.15
_LEVEL_S = 0.25  # a hump or more, so that valleys do not count
_FALLEN_SHARE = 0.55


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Where mean figures are taken.

    Parameters
    ----------
    from_s, to_s
        In the file's own time.
    cycles
        The whole engine cycles in it; None where the cycle is not known.
    count
        Engine cycles passed at each sample of the conditioned current; None likewise.
    zero_a
        What the clamp reads without current, shape (samples,).
    zero_known
        Whether that was seen at rest.
    fell_away
        Whether the current fell away before the crank ended: the engine ran, or the battery
        gave way. The stretch ends before that.
    """

    from_s: float
    to_s: float
    cycles: Cycles | None
    count: Floats | None
    zero_a: Floats
    zero_known: bool
    fell_away: bool = False


def find_stretch(done: Preparation, conditioned: Conditioned, span: CrankSpan) -> Stretch | None:
    """Return the stretch of a crank; None where the crank ends in the run-up."""
    from_s = span.from_s + RUN_UP_S if span.start_seen else span.settled_from_s
    to_s = span.to_s - (_END_S if span.end_seen else 0.0)
    if caught(done) and done.cranking:
        to_s = min(to_s, done.cranking.steady_to_s)
    fell_s = _falls_away(conditioned, span)
    to_s = min(to_s, fell_s) if fell_s is not None else to_s
    if to_s - from_s < _LEAST_S:
        from_s = span.settled_from_s
    if to_s - from_s < _LEAST_S:
        return None
    zero_a, zero_known = _zero(done, conditioned, span)
    count = done.cranking.cycle_count if done.cranking else done.count
    cycles = None
    if count is not None:
        cycles = whole_cycles(conditioned.times_s, count, from_s, to_s)
    if cycles is not None:
        from_s, to_s = float(cycles.times_s[0]), float(cycles.times_s[-1])
    fell_away = fell_s is not None or caught(done)
    return Stretch(from_s, to_s, cycles, count, zero_a, zero_known, fell_away)


def mean_over(values: Floats, conditioned: Conditioned, stretch: Stretch) -> float:
    """Return the mean of values on the conditioned grid over the stretch."""
    times_s = conditioned.times_s
    inside = (times_s >= stretch.from_s) & (times_s < stretch.to_s)
    return float(values[inside].mean())


def caught(done: Preparation) -> bool:
    """Return whether the engine began to run."""
    return any(f.code == "engine-caught" for f in done.findings)


def _falls_away(conditioned: Conditioned, span: CrankSpan) -> float | None:
    """Return when the current falls to about half for good; None where it keeps up."""
    first, last = (conditioned.index_of(t) for t in (span.settled_from_s, span.to_s - _END_S))
    above = conditioned.current_a[first : last + 1] - (span.rest_a or 0.0)
    width = round(_LEVEL_S * conditioned.rate_hz)
    if above.size < 2 * width:
        return None
    level = scipy.ndimage.uniform_filter1d(above, width, mode="nearest")
    under = level < _FALLEN_SHARE * float(np.quantile(level, 0.9))
    kept = np.flatnonzero(~under)
    if kept.size == 0 or (level.size - kept[-1]) < _LEAST_S * conditioned.rate_hz:
        return None
    # the running mean sees the fall half its width before
    return conditioned.t0_s + (first + int(kept[-1])) / conditioned.rate_hz - _LEVEL_S / 2


def _zero(done: Preparation, conditioned: Conditioned, span: CrankSpan) -> tuple[Floats, bool]:
    """Return the clamp's zero over time: a line from rest to rest where both were recorded."""
    times_s = conditioned.times_s
    before_a = span.rest_a
    after_a = None
    quiet = span.after_a is not None and abs(span.after_a) < _QUIET_SHARE * span.level_a
    if quiet and not caught(done) and span.after_a is not None:
        after_a = span.after_a + (before_a or 0.0)
    if before_a is None and after_a is None:
        return np.zeros(times_s.size), False
    if before_a is None or after_a is None:
        level = before_a if before_a is not None else after_a
        return np.full(times_s.size, level), True
    seen_s = (float(times_s[0] + span.from_s) / 2, float(times_s[-1] + span.to_s) / 2)
    line = np.interp(times_s, seen_s, (before_a, after_a))
    return np.asarray(line, dtype=np.float64), True
