"""Curves and bars as vector drawings."""

from traces.core.drawings.fitted_cycle import CyclePicture, cycle_picture
from traces.core.drawings.picture import Picture, evidence_picture, evidence_stretch
from traces.core.drawings.pressure_cycle import (
    PressurePicture,
    strokes_picture,
    volume_picture,
)
from traces.core.drawings.strip import CycleColumn, Strip, cycle_columns, cycle_strip
from traces.core.drawings.two_cycles import ComparePicture, compare_picture

__all__ = [
    "ComparePicture",
    "CycleColumn",
    "CyclePicture",
    "Picture",
    "PressurePicture",
    "Strip",
    "compare_picture",
    "cycle_columns",
    "cycle_picture",
    "cycle_strip",
    "evidence_picture",
    "evidence_stretch",
    "strokes_picture",
    "volume_picture",
]
