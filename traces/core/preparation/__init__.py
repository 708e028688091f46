"""From samples to steady cranking, and the checks of a capture."""

from traces.core.preparation.clamp_scale import doubt_scale
from traces.core.preparation.preparation import Preparation, channel_named, prepare
from traces.core.preparation.prepared import Freed, Measured, Method, Prepared
from traces.core.preparation.quality import GOOD_SAMPLES_A_HUMP

__all__ = [
    "GOOD_SAMPLES_A_HUMP",
    "Freed",
    "Measured",
    "Method",
    "Preparation",
    "Prepared",
    "channel_named",
    "doubt_scale",
    "prepare",
]
