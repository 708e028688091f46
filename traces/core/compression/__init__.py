"""What one compression does to the crank, from geometry and gas."""

from traces.core.compression.geometry import Geometry
from traces.core.compression.lobes import STEP_DEG, best_offset, hump_readings, lobe_mix
from traces.core.compression.slider_crank import Array, SliderCrank, travel

__all__ = [
    "STEP_DEG",
    "Array",
    "Geometry",
    "SliderCrank",
    "best_offset",
    "hump_readings",
    "lobe_mix",
    "travel",
]
