"""The hump method, relative figures, and what humps say of the engine entered."""

from traces.core.humps.high_humps import HIGH_FROM, high_findings, standing_high
from traces.core.humps.humps import HumpMethod
from traces.core.humps.other_engines import check_engine, with_doubts
from traces.core.humps.reference import (
    Limits,
    Reference,
    find_reference,
    half_width,
    recorded_half_width,
    sound_mean,
)

__all__ = [
    "HIGH_FROM",
    "HumpMethod",
    "Limits",
    "Reference",
    "check_engine",
    "find_reference",
    "half_width",
    "high_findings",
    "recorded_half_width",
    "sound_mean",
    "standing_high",
    "with_doubts",
]
