"""Mass flow of a gas through an opening: isentropic nozzle flow and a laminar slot.

Sources: Saint-Venant and Wantzel's nozzle relation as in Heywood, Internal Combustion Engine
Fundamentals, appendix C (from memory); viscous slot flow after Poiseuille with the density of
an ideal gas, which makes it proportional to the difference of squared pressures.
"""

import math

import numpy as np

from traces.core.compression import Array

AIR_J_KGK = 287.05
"""Specific gas constant of dry air."""


def critical_ratio(gamma: float) -> float:
    """Return the pressure ratio at and below which the flow is choked (0.528 for air)."""
    return math.pow(2 / (gamma + 1), gamma / (gamma - 1))


def flow_factor(log_ratio: Array, gamma: float) -> Array:
    """Return psi of m' = A p_up / sqrt(R T_up) psi for a pressure ratio.

    Parameters
    ----------
    log_ratio
        Natural logarithm of downstream over upstream pressure, at most 0, any shape.
    gamma
        Ratio of specific heats.

    Returns
    -------
    Array
        psi = sqrt(2 g/(g-1) (r^(2/g) - r^((g+1)/g))), constant once choked; no unit.
    """
    log_ratio = np.maximum(log_ratio, math.log(critical_ratio(gamma)))
    root = np.exp(log_ratio * (1 / gamma))
    factor: Array = np.sqrt((2 * gamma / (gamma - 1)) * root * (root - np.exp(log_ratio)))
    return factor


def nozzle_kg_s(
    area_m2: Array | float,
    upstream_pa: Array | float,
    upstream_k: Array | float,
    downstream_pa: Array | float,
    gamma: float = 1.4,
) -> Array:
    """Return the mass flow of air through a nozzle, kg/s; the same relation the engines use.

    Raises
    ------
    ValueError
        If a downstream pressure is above its upstream pressure.
    """
    ratio = np.asarray(downstream_pa, dtype=np.float64) / upstream_pa
    if np.any(ratio > 1):
        raise ValueError("flow runs from the higher pressure to the lower one")
    speed = np.sqrt(AIR_J_KGK * np.asarray(upstream_k, dtype=np.float64))
    with np.errstate(divide="ignore"):
        return area_m2 * upstream_pa / speed * flow_factor(np.log(ratio), gamma)


_SLOT_REFERENCE_PA = 6.0e5
_AMBIENT_PA = 1.0e5


def slot_conductance(area_m2: Array | float, temperature_k: float = 450.0) -> Array:
    """Return c of m' = c (p_up^2 - p_down^2) / T for a slot as leaky as a nozzle of `area_m2`.

    Both are made to pass the same flow at 6 bar against 1 bar and `temperature_k`.
    """
    same = nozzle_kg_s(area_m2, _SLOT_REFERENCE_PA, temperature_k, _AMBIENT_PA)
    return same * temperature_k / (_SLOT_REFERENCE_PA**2 - _AMBIENT_PA**2)
