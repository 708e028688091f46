"""Two captures beside each other, by crank angle and by cylinder."""

from traces.core.comparison.alignment import STEP_DEG
from traces.core.comparison.comparing import (
    DIFFERENCE_SOURCE,
    ComparedCapture,
    ComparedRow,
    CompareError,
    Comparison,
    Curves,
    compare,
    condition_cautions,
    conditions_beside,
    points_words,
    told_apart,
)

__all__ = [
    "DIFFERENCE_SOURCE",
    "STEP_DEG",
    "CompareError",
    "ComparedCapture",
    "ComparedRow",
    "Comparison",
    "Curves",
    "compare",
    "condition_cautions",
    "conditions_beside",
    "points_words",
    "told_apart",
]
