"""Cranking found in the current: where, how steadily, its cycles and crank angle."""

from traces.core.crank.cranking import Cranking, CrankSpan, find_crank, narrowed
from traces.core.crank.cycle_use import LEFT_OUT, CycleDeviations, all_cycle_uses
from traces.core.crank.cycles import FASTEST_RPM, USUAL_CYCLE_S, count_cycles, levelled
from traces.core.crank.marking import (
    CylinderMark,
    mark_of,
    order_from,
    recorded_sync,
    shift_finding,
    told_by_hand,
    unknown_angle_finding,
    with_marks,
)
from traces.core.crank.rhythm import Rhythm, find_rhythm
from traces.core.crank.steady import LEAST_CYCLES, Steadiness, settle
from traces.core.crank.time_direction import check_direction, direction_of

__all__ = [
    "FASTEST_RPM",
    "LEAST_CYCLES",
    "LEFT_OUT",
    "USUAL_CYCLE_S",
    "CrankSpan",
    "Cranking",
    "CycleDeviations",
    "CylinderMark",
    "Rhythm",
    "Steadiness",
    "all_cycle_uses",
    "check_direction",
    "count_cycles",
    "direction_of",
    "find_crank",
    "find_rhythm",
    "levelled",
    "mark_of",
    "narrowed",
    "order_from",
    "recorded_sync",
    "settle",
    "shift_finding",
    "told_by_hand",
    "unknown_angle_finding",
    "with_marks",
]
