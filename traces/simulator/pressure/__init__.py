"""One cylinder with a pressure transducer in place of its plug, with the truth about it.

Gas exchange through real valve areas, heat loss by two laws, leaks and timing; it shares no code
with the analysis beyond the slider-crank linkage.
"""

from traces.simulator.pressure.case import PressureCase, Transducer, ValveTiming
from traces.simulator.pressure.drawing import (
    BITS,
    RATES_HZ,
    SCALES_KPA_PER_V,
    PressureState,
    draw_pressure,
)
from traces.simulator.pressure.gas_exchange import MotoredCycle, linkage_of, motored_cycle
from traces.simulator.pressure.recording import (
    PRESSURE_CHANNEL,
    PressureCapture,
    PressureTruth,
    pressure_capture,
)

__all__ = [
    "BITS",
    "PRESSURE_CHANNEL",
    "RATES_HZ",
    "SCALES_KPA_PER_V",
    "MotoredCycle",
    "PressureCapture",
    "PressureCase",
    "PressureState",
    "PressureTruth",
    "Transducer",
    "ValveTiming",
    "draw_pressure",
    "linkage_of",
    "motored_cycle",
    "pressure_capture",
]
