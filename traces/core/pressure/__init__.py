"""One cylinder's pressure, motored: towers, dead centre, legs, plateaus and valve angles."""

from traces.core.pressure.errors import PressureError, Trouble
from traces.core.pressure.measuring import Measured, PressureInput, measure
from traces.core.pressure.seen import CylinderSeen, cylinder_seen

__all__ = [
    "CylinderSeen",
    "Measured",
    "PressureError",
    "PressureInput",
    "Trouble",
    "cylinder_seen",
    "measure",
]
