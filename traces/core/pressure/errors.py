"""Why a recording cannot be read as one cylinder's pressure."""

from typing import Literal, TypeAlias

Trouble: TypeAlias = Literal[
    "none",
    "upside-down",
    "clipped",
    "noise",
    "few",
    "unsteady",
    "turns",
    "shape",
    "fires",
    "scale",
    "low-rate",
]


class PressureError(Exception):
    """The recording allows no figures.

    Parameters
    ----------
    trouble
        What keeps it from being read.
    figures
        What its sentence names.
    """

    def __init__(self, trouble: Trouble, **figures: object) -> None:
        super().__init__(trouble)
        self.trouble: Trouble = trouble
        self.figures = figures
