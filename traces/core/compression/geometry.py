"""Volume of a cylinder over its clearance by crank angle."""

from dataclasses import dataclass, replace

import numpy as np

from traces.core.compression.slider_crank import travel
from traces.core.waveform import Floats


@dataclass(frozen=True, slots=True)
class Geometry:
    """What is known of a cylinder's shape.

    Parameters
    ----------
    ratio
        Compression ratio with the transducer in place.
    rod_over_crank
        Length of the rod over the crank's radius.
    cylinders
        Of the engine: how often the crank's speed swings in 720 degrees.
    is_known
        Whether somebody said the ratio; else it is the usual one of such engines.
    """

    ratio: float
    rod_over_crank: float = 3.4
    cylinders: int = 4
    is_known: bool = False

    def volume(self, angle_deg: Floats) -> Floats:
        """Return the volume over that at top dead centre, 1 to `ratio` (slider-crank)."""
        moved = travel(np.deg2rad(angle_deg), 0.5, np.float64(0.5 * self.rod_over_crank))[0]
        return np.asarray(1 + (self.ratio - 1) * moved)

    def slope(self, angle_deg: Floats) -> Floats:
        """Return the change of the volume's logarithm with angle, 1/rad."""
        angle = np.deg2rad(angle_deg)
        moved, by_angle = travel(angle, 0.5, np.float64(0.5 * self.rod_over_crank))[:2]
        return np.asarray((self.ratio - 1) * by_angle / (1 + (self.ratio - 1) * moved))

    def with_ratio(self, ratio: float) -> "Geometry":
        """Return the same cylinder with another compression ratio."""
        return replace(self, ratio=ratio)
