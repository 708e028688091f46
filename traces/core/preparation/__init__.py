"""From samples to steady cranking, and the checks of a capture."""

from traces.core.preparation.clamp_scale import doubt_scale, usual_current_a
from traces.core.preparation.preparation import channel_named, prepare
from traces.core.preparation.prepared import Freed, Measured, Method, Prepared
from traces.core.preparation.quality import GOOD_SAMPLES_A_HUMP
from traces.core.preparation.steady_part import (
    Preparation,
    fit_to_judge,
    noticing,
    prepared_of,
    steadied,
)

__all__ = [
    "GOOD_SAMPLES_A_HUMP",
    "Freed",
    "Measured",
    "Method",
    "Preparation",
    "Prepared",
    "channel_named",
    "doubt_scale",
    "fit_to_judge",
    "noticing",
    "prepare",
    "prepared_of",
    "steadied",
    "usual_current_a",
]
