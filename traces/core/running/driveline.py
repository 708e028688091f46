"""What hangs on the crank: one flywheel, or two masses with springs between them.

Two masses answer a torque that comes f times a second as (Den Hartog, Mechanical Vibrations, two
degrees of freedom; from memory), over one mass of their sum,

    H = (1 + r) (r s^2 + c s + k) / (r s^2 + (1 + r) (c s + k)),  s = 2 pi i f,

with r the inertia behind the springs over that before them, and k, c their stiffness and damping
over the inertia before them. About the frequency at which the masses swing against each other the
crank moves late and much, below it early and little: the effect of one cylinder falls on others.
"""

from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

import numpy as np

from traces.core.waveform import Floats

_HZ = (6.0, 7.5, 9.0, 10.5, 12.0, 14.0, 16.0, 19.0)
_SHARES, _DAMPINGS = (0.4, 0.8, 1.4), (0.06, 0.15)
"""Of two-mass flywheels with a gearbox in neutral (common practice: 0.5 to 1 and 8 to 15 Hz)."""


@dataclass(frozen=True, slots=True)
class TwoMasses:
    """A flywheel of two masses.

    Parameters
    ----------
    hz
        At which they swing against each other.
    share
        Inertia behind the springs over that before them.
    damping
        Of that swing, over critical damping.
    """

    hz: float
    share: float
    damping: float

    def response(self, often_hz: Floats) -> np.ndarray:
        """Return the crank's complex answer, over that of one mass, to torques of `often_hz`."""
        s = 2j * np.pi * often_hz
        both = 1.0 + self.share
        reduced = self.share / both
        stiffness = (2 * np.pi * self.hz) ** 2 * reduced
        spring = 2 * self.damping * np.sqrt(stiffness * reduced) * s + stiffness
        inert = self.share * s**2
        return np.asarray(both * (inert + spring) / (inert + both * spring))


Driveline: TypeAlias = TwoMasses | None
"""None is one mass."""

TWO_MASSES: tuple[Driveline, ...] = tuple(
    TwoMasses(hz, share, damping) for hz, share, damping in product(_HZ, _SHARES, _DAMPINGS)
)
"""Those that are tried where a flywheel may have two masses."""


def swung(lead_deg: Floats, rpm: float, driveline: Driveline) -> Floats:
    """Return a lead over one engine cycle as a driveline makes it of that of one mass."""
    if driveline is None:
        return lead_deg
    lines = np.fft.rfft(lead_deg)
    often_hz = np.asarray(np.arange(lines.size) * rpm / 120.0, dtype=np.float64)
    return np.asarray(np.fft.irfft(lines * driveline.response(often_hz), lead_deg.size))
