"""Which way a recording runs, by the starter's inrush.

A motor that stands draws several times what it does while it turns, so that a crank begins with
a peak and ends without one. Simulated captures of three kinds of physics begin 1.14 to 3.3 times
over their highest hump and end at 1.07 at most.
"""

from typing import Literal, TypeAlias

import numpy as np

from traces.core.crank.cranking import Cranking
from traces.core.findings import Finding, finding
from traces.core.setup import AnalysisSetup

Direction: TypeAlias = Literal["forwards", "backwards", "unknown"]

_AT_END_S = 0.25
_OUTSIDE_S = 0.05
_TOP = 0.99
_INRUSH, _NONE = 1.12, 1.08
_SURELY = 1.25
"""Peak at an end of the crank over the highest hump from which it is an inrush, and up to which it
is none; more is asked of one at the end, where an engine that is blocked may stall the starter."""


def direction_of(cranking: Cranking) -> Direction:
    """Return which way the recording runs; `unknown` where it does not hold the whole crank."""
    conditioned, span = cranking.conditioned, cranking.span
    if not (span.start_seen and span.end_seen):
        return "unknown"
    times_s = conditioned.times_s
    current_a = conditioned.current_a - (span.rest_a or 0.0)
    top_a = float(np.quantile(current_a[cranking.steady], _TOP))
    if not top_a > 0:
        return "unknown"

    def peak(from_s: float, to_s: float) -> float:
        inside = (times_s >= from_s) & (times_s <= to_s)
        return float(current_a[inside].max(initial=0.0)) / top_a

    start = peak(span.from_s - _OUTSIDE_S, span.from_s + _AT_END_S)
    end = peak(span.to_s - _AT_END_S, span.to_s + _OUTSIDE_S)
    if start >= _INRUSH and end <= _NONE:
        return "forwards"
    if end >= _SURELY and start <= _NONE:
        return "backwards"
    return "unknown"


def check_direction(cranking: Cranking, setup: AnalysisSetup) -> list[Finding]:
    """Refuse a starter current that ends with its inrush."""
    if setup.kind.is_current and direction_of(cranking) == "backwards":
        return [finding("time-inrush-last")]
    return []
