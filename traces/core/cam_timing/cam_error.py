"""Why a recording does not show cams against the crank."""

from typing import Literal, TypeAlias

CamTrouble: TypeAlias = Literal[
    "wheel",
    "no-mark",
    "few-cycles",
    "no-edges",
    "no-pattern",
    "many-edges",
    "other-wheel",
    "other-pattern",
    "other-state",
    "far",
    "several-ways",
]


class CamError(Exception):
    """The recording allows no figures.

    Parameters
    ----------
    trouble
        What keeps it from being read.
    figures
        What its sentence names.
    """

    def __init__(self, trouble: CamTrouble, **figures: object) -> None:
        super().__init__(trouble)
        self.trouble: CamTrouble = trouble
        self.figures = figures
