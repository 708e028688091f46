"""One cylinder's pressure, motored: towers, dead centre, legs, plateaus and valve angles."""

from traces.core.pressure.comparing import Share, beside_known_good, in_turn, shares_in_turn
from traces.core.pressure.errors import PressureError, Trouble
from traces.core.pressure.geometry import Geometry
from traces.core.pressure.measuring import Measured, PressureInput, measure

__all__ = [
    "Geometry",
    "Measured",
    "PressureError",
    "PressureInput",
    "Share",
    "Trouble",
    "beside_known_good",
    "in_turn",
    "measure",
    "shares_in_turn",
]
