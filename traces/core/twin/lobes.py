"""Gas torque of one leaking cylinder by crank angle, tabulated without dimensions.

The cylinder is closed from intake closing to exhaust opening. Its air follows
p = (m / V)^n, everything relative to the state at intake closing, while mass leaves through an
orifice (choked above the critical pressure ratio, subsonic below it, inward once the cylinder
is under atmosphere). Torque opposing the crank is (p - p_atm) dV/da with the slider-crank
volume. Sources: slider-crank and orifice flow as in Heywood, Internal Combustion Engine
Fundamentals, ch. 2 and appendix C (from memory); exponent while cranking 1.2-1.3.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from traces.core.setup import Fuel
from traces.core.slider_crank import travel

Floats = NDArray[np.float64]

GAMMA = 1.4
EXPONENT = 1.30
CLOSES_ABDC_DEG = 50.0
OPENS_BBDC_DEG = 45.0
ROD_OVER_CRANK = 3.3

PETROL_RATIOS = (7.5, 9.0, 10.5, 12.5)
DIESEL_RATIOS = (13.0, 15.5, 18.0, 21.0)

ANGLES = 720
"""Entries of a lobe: crank degrees -360 to 359 after firing top dead centre."""

SHARES = np.linspace(0.0, 1.0, 41)
"""Grid of peak gauge pressure over that of the tight cylinder."""

_SUBSTEPS = 2
_CRITICAL = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))


def orifice_factor(ratio: Floats) -> Floats:
    """Return psi(r) of mass flow = area x p_up / sqrt(R T_up) x psi, r = p_down / p_up <= 1."""
    r = np.maximum(ratio, _CRITICAL)
    g = GAMMA
    inner = np.maximum(r ** (2 / g) - r ** ((g + 1) / g), 0.0)
    return np.asarray(np.sqrt(2 * g / (g - 1) * inner), dtype=np.float64)


def relative_volume(angle_deg: Floats, ratio: Floats | float) -> tuple[Floats, Floats]:
    """Return V / swept volume and its slope a radian; `angle_deg` after top dead centre."""
    angle = np.deg2rad(angle_deg)
    x, slope = travel(angle, 1.0, ROD_OVER_CRANK)
    return 1 / (np.asarray(ratio) - 1) + x / 2, slope / 2


def leaking_pressure(leak: Floats, ratio: Floats | float) -> tuple[Floats, Floats]:
    """Integrate the closed part of the cycle for many leaks side by side.

    Parameters
    ----------
    leak
        Dimensionless leak: flow area x sqrt(R T) / (V at closing x crank speed in rad/s).
    ratio
        Compression ratio, broadcast against `leak`.

    Returns
    -------
    tuple of Floats
        Angles in whole degrees after firing top dead centre, shape (A,), and absolute pressure
        over atmosphere there, shape (A, *leak.shape).
    """
    first, last = -180.0 + CLOSES_ABDC_DEG, 180.0 - OPENS_BBDC_DEG
    leak, ratio = np.broadcast_arrays(np.asarray(leak, dtype=np.float64), ratio)
    fine = np.arange(first, last + 1e-9, 1 / _SUBSTEPS)
    start = relative_volume(np.array(first), ratio)[0]
    volume = relative_volume(fine.reshape(-1, *([1] * leak.ndim)), ratio)[0] / start
    log_m = np.zeros(leak.shape)
    h = np.deg2rad(1 / _SUBSTEPS)
    out = np.empty(volume.shape)

    def slope(log_m: Floats, v: Floats) -> Floats:
        m = np.exp(log_m)
        p = (m / v) ** EXPONENT
        outward = p * orifice_factor(1 / np.maximum(p, 1.0)) / np.sqrt(p * v / m)
        inward = orifice_factor(np.minimum(p, 1.0))
        return np.asarray(leak * np.where(p >= 1, -outward, inward) / m, dtype=np.float64)

    for i in range(fine.size):
        out[i] = (np.exp(log_m) / volume[i]) ** EXPONENT
        if i + 1 == fine.size:
            break
        # implicit in the decay: a large leak empties the cylinder within a step
        k1 = slope(log_m, volume[i])
        trial = log_m + np.clip(h * k1, -0.5, 0.5)
        k2 = slope(trial, volume[i + 1])
        log_m = log_m + np.clip(h * (k1 + k2) / 2, -0.5, 0.5)
    return fine[::_SUBSTEPS], out[::_SUBSTEPS]


@dataclass(frozen=True, slots=True, eq=False)
class LobeTable:
    """Torque lobes over compression ratio, peak share and angle, with their slopes.

    Parameters
    ----------
    ratios
        Compression ratios, shape (R,).
    torque
        Gauge torque in units of (tight peak gauge x swept volume), shape (R, S, ANGLES);
        entry 360 is firing top dead centre.
    mass_torque
        Derivative of torque with the trapped-mass factor (pressure in proportion), same shape.
    """

    ratios: Floats
    torque: Floats
    mass_torque: Floats


@lru_cache(maxsize=2)
def lobe_table(fuel: Fuel) -> LobeTable:
    """Return the lobes of petrol or diesel engines; made once and kept."""
    ratios = np.array(DIESEL_RATIOS if fuel == "diesel" else PETROL_RATIOS)
    leaks = np.concatenate(([0.0], np.geomspace(1e-4, 3.0, 90)))
    angles, pressure = leaking_pressure(leaks[None, :], ratios[:, None])
    gauge = pressure - 1
    peak = gauge.max(axis=0)
    share = peak / peak[:, :1]
    torque = np.zeros((ratios.size, SHARES.size, ANGLES))
    mass = np.zeros_like(torque)
    at = np.round(angles).astype(int) + ANGLES // 2
    slope = relative_volume(angles[:, None], ratios)[1]
    for i in range(ratios.size):
        order = np.argsort(share[i])
        x = share[i][order]
        keep = np.concatenate(([True], np.diff(x) > 1e-9))
        x, g = x[keep], gauge[:, i, order][:, keep]
        # the emptiest cylinder of the grid stands for none at all
        shape = np.array([np.interp(SHARES, x, row) for row in g])
        scale = 1 / peak[i, 0]
        resist = -slope * scale
        torque[i][:, at] = (shape * resist).T
        mass[i][:, at] = ((shape + 1) * resist).T * (shape.max(axis=0) / (shape.max(axis=0) + 1))[
            :, None
        ]
    for table in (ratios, torque, mass):
        table.setflags(write=False)
    return LobeTable(ratios, torque, mass)
