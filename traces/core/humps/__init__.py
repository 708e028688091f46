"""The hump method, relative figures, and what humps say of the engine entered."""

from traces.core.humps.high_humps import high_findings
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
    "HumpMethod",
    "Limits",
    "Reference",
    "check_engine",
    "find_reference",
    "half_width",
    "high_findings",
    "recorded_half_width",
    "sound_mean",
    "with_doubts",
]
