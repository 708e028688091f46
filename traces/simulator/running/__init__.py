"""Idling engines as a crank sensor records them, with the truth about each cylinder.

Two kinds of physics that share no code with the analysis beyond the slider-crank linkage:
`gas_cycle` (pressure, rod and crank of every cylinder on a rigid crank) and `impulses` (a push
for each firing on two inertias with a spring between them).
"""

from traces.simulator.running.drawing import FAULTS, ORDERS, WHEELS, IdleFault, draw_idle
from traces.simulator.running.idle import Course, Idle, IdleTruth, Physics
from traces.simulator.running.recording import (
    CRANK_CHANNEL,
    SYNC_CHANNEL,
    IdleCapture,
    idle_capture,
    idle_course,
)

__all__ = [
    "CRANK_CHANNEL",
    "FAULTS",
    "ORDERS",
    "SYNC_CHANNEL",
    "WHEELS",
    "Course",
    "Idle",
    "IdleCapture",
    "IdleFault",
    "IdleTruth",
    "Physics",
    "draw_idle",
    "idle_capture",
    "idle_course",
]
