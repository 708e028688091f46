"""Piston travel and cylinder volume by crank angle: the slider-crank linkage.

Source of the formulas: Heywood, Internal Combustion Engine Fundamentals, ch. 2 (from memory),
the textbook relations for a crank without pin offset.
"""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SliderCrank:
    """One cylinder's linkage.

    Parameters
    ----------
    bore_m, stroke_m
        Cylinder diameter and twice the crank radius.
    rod_m
        Connecting rod between its centres; longer than half the stroke.
    compression_ratio
        Largest over smallest volume.

    Raises
    ------
    ValueError
        If a length is not positive, the rod too short, or the ratio not above 1.
    """

    bore_m: float
    stroke_m: float
    rod_m: float
    compression_ratio: float

    def __post_init__(self) -> None:
        if not (self.bore_m > 0 and self.stroke_m > 0):
            raise ValueError("bore and stroke must be positive")
        if not self.rod_m > self.stroke_m / 2:
            raise ValueError("the connecting rod must be longer than the crank radius")
        if not self.compression_ratio > 1:
            raise ValueError("the compression ratio must be above 1")

    @property
    def piston_m2(self) -> float:
        """Area of the bore."""
        return float(np.pi * self.bore_m**2 / 4)

    @property
    def swept_m3(self) -> float:
        """Displacement of the cylinder."""
        return self.piston_m2 * self.stroke_m

    @property
    def clearance_m3(self) -> float:
        """Volume left at top dead centre."""
        return self.swept_m3 / (self.compression_ratio - 1)

    def travel_m(self, angle_deg: ArrayLike) -> Array:
        """Return how far the piston stands below top dead centre.

        Parameters
        ----------
        angle_deg
            Crank angle after top dead centre, any shape, degrees.

        Returns
        -------
        Array
            x = r (1 - cos a) + l - sqrt(l^2 - r^2 sin^2 a), metres, shape of `angle_deg`.
        """
        angle_rad = np.deg2rad(np.asarray(angle_deg, dtype=np.float64))
        return travel(angle_rad, self.stroke_m / 2, self.rod_m)[0]

    def volume_m3(self, angle_deg: ArrayLike) -> Array:
        """Return the cylinder volume at `angle_deg` after top dead centre, cubic metres."""
        return self.clearance_m3 + self.piston_m2 * self.travel_m(angle_deg)

    def dvolume_m3_per_rad(self, angle_deg: ArrayLike) -> Array:
        """Return dV/da, cubic metres a radian; times a pressure difference it is torque."""
        angle_rad = np.deg2rad(np.asarray(angle_deg, dtype=np.float64))
        return self.piston_m2 * travel(angle_rad, self.stroke_m / 2, self.rod_m)[1]


def travel(angle_rad: Array, crank_m: float | Array, rod_m: float | Array) -> tuple[Array, Array]:
    """Return piston travel and its slope by crank angle, for arrays of engines too.

    Parameters
    ----------
    angle_rad
        Crank angle after top dead centre, radians, any shape.
    crank_m, rod_m
        Crank radius and connecting rod, metres; broadcast against `angle_rad`.

    Returns
    -------
    tuple of Array
        Travel x in metres and dx/da = r sin a (1 + r cos a / sqrt(l^2 - r^2 sin^2 a)) in
        metres a radian.
    """
    side = crank_m * np.sin(angle_rad)
    along = crank_m * np.cos(angle_rad)
    lean = np.sqrt(rod_m * rod_m - side * side)
    return crank_m - along + rod_m - lean, side + side * along / lean
