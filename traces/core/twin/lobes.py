"""Gas torque of one leaking cylinder by crank angle, tabulated without dimensions.

The cylinder is closed from intake closing to exhaust opening. Its air follows
p = (m / V)^n, everything relative to the state at intake closing, while mass leaves through an
orifice (choked above the critical pressure ratio, subsonic below it, inward once the cylinder
is under atmosphere). Torque opposing the crank is (p - p_atm) dV/da with the slider-crank
volume. Sources: slider-crank and orifice flow as in Heywood, Internal Combustion Engine
Fundamentals, ch. 2 and appendix C (from memory); exponent while cranking 1.2 to 1.3.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from traces.core.compression import travel
from traces.core.setup import Fuel

Floats = NDArray[np.float64]

GAMMA = 1.4
EXPONENT = 1.30
CLOSES_ABDC_DEG = 50.0
OPENS_BBDC_DEG = 46.0
ROD_OVER_CRANK = 3.3

_LEAST_RATIO: dict[Fuel, float] = {"petrol": 4.5, "diesel": 7.0}
RATIO_NODES = 6
RATIO_STEP = 1.4
"""From node to node of the table clearance shrinks by this factor: ratio - 1 grows by it."""

ANGLES = 360
"""Entries of a lobe: every two crank degrees from 360 before firing top dead centre on."""

SHARES = np.linspace(0.0, 1.0, 33)
"""Grid of peak gauge pressure over that of the tight cylinder."""

CLOSED = slice(115, 248)
"""Entries of a lobe where the valves are closed; elsewhere it is 0."""

_LEFT = 0.95
"""Of the torque of a second compression (estimate): what leaks, cools and is let out early."""

_STEPS_A_DEG = 2
_DEG_AN_ENTRY = 720 // ANGLES
_LARGEST_CHANGE = 0.5  # of ln(mass) in a step: a large opening empties the cylinder at once


def critical_ratio() -> float:
    """Return the pressure ratio at and below which the flow is choked: 0.528 for air."""
    return float((2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1)))


def orifice_factor(ratio: Floats) -> Floats:
    """Return psi of mass flow = area x p_up / sqrt(R T_up) x psi.

    Parameters
    ----------
    ratio
        Downstream over upstream pressure, at most 1, any shape.

    Returns
    -------
    Floats
        sqrt(2 g / (g - 1) (r^(2/g) - r^((g+1)/g))), constant once choked.
    """
    r = np.maximum(ratio, critical_ratio())
    inner = np.maximum(r ** (2 / GAMMA) - r ** ((GAMMA + 1) / GAMMA), 0.0)
    return np.asarray(np.sqrt(2 * GAMMA / (GAMMA - 1) * inner), dtype=np.float64)


def relative_volume(angle_deg: Floats, ratio: Floats) -> tuple[Floats, Floats]:
    """Return V over swept volume, and its slope a radian, at `angle_deg` after dead centre."""
    x, slope = travel(np.deg2rad(angle_deg), 1.0, ROD_OVER_CRANK)
    return 1 / (ratio - 1) + x / 2, slope / 2


def leaking_pressure(leak: Floats, ratio: Floats) -> tuple[Floats, Floats]:
    """Integrate the closed part of the cycle for many leaks side by side.

    Parameters
    ----------
    leak
        Dimensionless leak: area x sqrt(R T) / (volume at closing x crank speed in rad/s).
    ratio
        Compression ratio; broadcast against `leak`.

    Returns
    -------
    tuple of Floats
        Every second degree after firing top dead centre, shape (A,), and absolute pressure
        over atmosphere there, shape (A, ...).
    """
    leak, ratio = np.broadcast_arrays(leak, ratio)
    first, last = -180.0 + CLOSES_ABDC_DEG, 180.0 - OPENS_BBDC_DEG
    angles = np.arange(first, last + 1e-9, 1 / _STEPS_A_DEG)
    volume = relative_volume(angles.reshape(-1, *([1] * leak.ndim)), ratio)[0]
    volume = volume / volume[0]
    step = float(np.deg2rad(1 / _STEPS_A_DEG))
    log_mass = np.zeros(leak.shape)
    pressure = np.empty(volume.shape)
    pressure[0] = 1.0
    for i in range(angles.size - 1):
        before = leak * _flow(log_mass, volume[i])
        tried = log_mass + np.clip(step * before, -_LARGEST_CHANGE, _LARGEST_CHANGE)
        mean = (before + leak * _flow(tried, volume[i + 1])) / 2
        log_mass = log_mass + np.clip(step * mean, -_LARGEST_CHANGE, _LARGEST_CHANGE)
        pressure[i + 1] = (np.exp(log_mass) / volume[i + 1]) ** EXPONENT
    kept = slice(None, None, _STEPS_A_DEG * _DEG_AN_ENTRY)
    return angles[kept], pressure[kept]


def _flow(log_mass: Floats, volume: Floats) -> Floats:
    """Return d ln(m) / da for a leak of 1: outward, or inward under atmosphere."""
    mass = np.exp(log_mass)
    pressure = (mass / volume) ** EXPONENT
    temperature = pressure * volume / mass
    outward = pressure * orifice_factor(1 / np.maximum(pressure, 1.0)) / np.sqrt(temperature)
    inward = orifice_factor(np.minimum(pressure, 1.0))
    return np.asarray(np.where(pressure >= 1, -outward, inward) / mass, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class LobeTable:
    """Torque lobes over compression ratio, peak share and angle.

    Parameters
    ----------
    ratios
        Compression ratios of the nodes, shape (RATIO_NODES,).
    peaks
        Peak gauge pressure of the tight cylinder over atmosphere, shape (RATIO_NODES,).
    torque
        Gauge torque over (atmosphere x swept volume), shape (RATIO_NODES, shares, ANGLES);
        entry ANGLES / 2 is firing top dead centre.
    closed
        The same while the valves are closed, by share and then ratio, shape
        (shares * RATIO_NODES, entries of CLOSED).
    arm
        -dV/da over swept volume while the valves are closed, else 0, shape (ANGLES,): what an
        atmosphere of pressure makes as torque.
    intake_arm
        dV/da over swept volume from top dead centre to intake closing: what a vacuum of an
        atmosphere makes the piston drag, shape (ANGLES,).
    """

    ratios: Floats
    peaks: Floats
    torque: Floats
    closed: Floats
    arm: Floats
    intake_arm: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Lobes:
    """Lobes of the cylinders of one engine and their slopes, each (n, ANGLES).

    `peaks` are their peak gauge pressures over atmosphere, (n,), with slopes.
    """

    torque: Floats
    by_share: Floats
    by_mass: Floats
    by_ratio: Floats
    by_vacuum: Floats
    peaks: Floats
    peaks_by_share: Floats
    peaks_by_mass: Floats
    peaks_by_ratio: Floats


def lobes_at(
    table: LobeTable, ratios_at: Floats, shares: Floats, masses: Floats, vacuum: float = 0.0
) -> Lobes:
    """Interpolate smoothly: the fit must not meet kinks.

    Parameters
    ----------
    ratios_at
        Place in the table's compression ratios, 0 to RATIO_NODES - 1, shape (n,).
    shares
        Peak gauge pressure left by the leak over that of the tight cylinder, shape (n,).
    masses
        Relative change of trapped mass, shape (n,); pressure changes in proportion.
    """
    n = shares.size
    along, along_slopes = _through_all(ratios_at)
    at = np.clip(shares / SHARES[1], 0.0, SHARES.size - 1 - 1e-9)
    lower = np.clip(at.astype(np.intp), 1, SHARES.size - 3)
    near, near_slopes = _through_four(at - lower)
    weights = np.stack(
        [
            near[:, :, None] * along[:, None, :],
            near_slopes[:, :, None] * along[:, None, :] / SHARES[1],
            near[:, :, None] * along_slopes[:, None, :],
        ],
        axis=1,
    ).reshape(n, 3, 4 * RATIO_NODES)
    drawn = np.zeros((n, 3, ANGLES))
    for of_cylinder, weight, at_share in zip(drawn, weights, lower.tolist(), strict=True):
        # four neighbours lie side by side, so that nothing is copied
        around = table.closed[(at_share - 1) * RATIO_NODES : (at_share + 3) * RATIO_NODES]
        of_cylinder[:, CLOSED] = weight @ around
    torque, by_share, by_ratio = drawn.transpose(1, 0, 2)
    filling = 1 + masses - vacuum
    more = filling[:, None]
    tight, tight_slope = along @ table.peaks, along_slopes @ table.peaks
    gauge = shares * tight
    return Lobes(
        torque=more * torque + (more - 1) * table.arm + vacuum * table.intake_arm,
        by_share=more * by_share,
        by_mass=torque + table.arm,
        by_ratio=more * by_ratio,
        by_vacuum=table.intake_arm - torque - table.arm,
        peaks=filling * gauge + filling - 1,
        peaks_by_share=filling * tight,
        peaks_by_mass=gauge + 1,
        peaks_by_ratio=filling * shares * tight_slope,
    )


def compressed_again(lobes: Lobes, place: int) -> Lobes:
    """Return the lobes where the exhaust valve of one cylinder stays shut.

    Its gas is expanded and then compressed once more, a crank turn after its firing top dead
    centre; there the intake valve opens and lets it go, so that nothing is given back. On its
    way it loses a part by the rings and to the walls.
    """

    def both(of_lobes: Floats) -> Floats:
        rising = of_lobes[place].copy()
        rising[ANGLES // 2 :] = 0.0
        changed = of_lobes.copy()
        changed[place] += _LEFT * np.roll(rising, ANGLES // 2)
        return changed

    return replace(
        lobes,
        torque=both(lobes.torque),
        by_share=both(lobes.by_share),
        by_mass=both(lobes.by_mass),
        by_ratio=both(lobes.by_ratio),
        by_vacuum=both(lobes.by_vacuum),
    )


def _through_all(at: Floats) -> tuple[Floats, Floats]:
    """Return weights of all nodes for the one curve through them, and slopes, (n, nodes)."""
    powers = at[:, None] ** np.arange(RATIO_NODES)
    slopes = np.zeros_like(powers)
    slopes[:, 1:] = powers[:, :-1] * np.arange(1, RATIO_NODES)
    return powers @ _CURVES, slopes @ _CURVES


def _through_four(part: Floats) -> tuple[Floats, Floats]:
    """Return weights of nodes -1, 0, 1, 2 at `part` for the cubic through them, and slopes."""
    a, b, c, d = part + 1, part, part - 1, part - 2
    weights = np.stack([-b * c * d / 6, a * c * d / 2, -a * b * d / 2, a * b * c / 6], axis=1)
    slopes = np.stack(
        [
            -(b * c + b * d + c * d) / 6,
            (a * c + a * d + c * d) / 2,
            -(a * b + a * d + b * d) / 2,
            (a * b + a * c + b * c) / 6,
        ],
        axis=1,
    )
    return weights, slopes


# columns: coefficients, constant first, of the curve that is 1 at its node and 0 at the others
_CURVES = np.linalg.inv(np.vander(np.arange(float(RATIO_NODES)), increasing=True))


@lru_cache(maxsize=2)
def lobe_table(fuel: Fuel) -> LobeTable:
    """Return the lobes of petrol or diesel engines; made once and kept."""
    steps = RATIO_STEP ** np.arange(RATIO_NODES, dtype=np.float64)
    ratios = np.asarray(1 + (_LEAST_RATIO[fuel] - 1) * steps, dtype=np.float64)
    leaks = np.concatenate(([0.0], np.geomspace(1e-4, 3.0, 90)))
    angles, pressure = leaking_pressure(leaks[None, :], ratios[:, None])
    gauge = pressure - 1
    peaks = gauge.max(axis=0)
    slope = relative_volume(angles, ratios[:1])[1]
    at = np.round(angles * ANGLES / 720).astype(int) + ANGLES // 2
    torque = np.zeros((ratios.size, SHARES.size, ANGLES))
    for i in range(ratios.size):
        # from the leakiest on, so that shares rise; the leakiest stands for no compression
        shares = peaks[i, ::-1] / peaks[i, 0]
        rising = np.array([np.interp(SHARES, shares, g[::-1]) for g in gauge[:, i]])
        torque[i][:, at] = (-slope[:, None] * rising).T
    arm = np.zeros(ANGLES)
    arm[at] = -slope
    stroke = np.arange(0.0, 180.0 + CLOSES_ABDC_DEG, _DEG_AN_ENTRY)
    intake_arm = np.zeros(ANGLES)
    intake_arm[: stroke.size] = relative_volume(stroke, ratios[:1])[1]
    closed = torque[:, :, CLOSED].transpose(1, 0, 2).reshape(SHARES.size * ratios.size, -1)
    for array in (ratios, torque, closed, arm, intake_arm):
        array.setflags(write=False)
    return LobeTable(ratios, peaks[:, 0], torque, closed, arm, intake_arm)
