"""Where the transducer's zero lies: its offset is unknown until something tells it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.ndimage import uniform_filter1d

from traces.core.compression import Geometry
from traces.core.pressure.mean_cycle import CYCLE
from traces.core.pressure.towers import Towers
from traces.core.waveform import Floats

_LEAST_REST_S, _LEAST_REST_CYCLES = 0.25, 0.8
_INTAKE_UNDER_KPA, _INTAKE_SIGMA_KPA = 2.5, 2.5
"""How far the intake stroke of a cranked engine lies under the air with the throttle wide open
(our own estimate)."""
_EXPONENT, _EXPONENT_SIGMA = 1.34, 0.03
_LEG_DEG = np.arange(-100.0, -29.0)
_INTAKE_DEG = np.arange(435, 511)
_SMOOTH_S = 0.01
_DITHERED = 0.35
"""Noise over the recorder's step from which means are finer than the step."""


@dataclass(frozen=True, slots=True)
class Zero:
    """The recording's value at the pressure of the air.

    Parameters
    ----------
    value, sigma
        In the recording's unit.
    source
        What it is taken from.
    """

    value: float
    sigma: float
    source: Literal["rest", "entered", "intake", "compression"]


def rest_zero(towers: Towers) -> Zero | None:
    """Return the level before the engine turned or after it stood; None where neither is there.

    A standing cylinder has the air's pressure, as its rings always leak a little.
    """
    least_s = max(_LEAST_REST_S, _LEAST_REST_CYCLES * 120.0 / towers.rpm)
    least = round(least_s * towers.rate_hz)
    before = towers.values[: max(0, round(towers.before_s * towers.rate_hz))]
    after = towers.values[round(towers.after_s * towers.rate_hz) :][::-1]
    found = [rest for side in (before, after) if (rest := _flat_start(side, least, towers))]
    return max(found, key=lambda rest: rest[1], default=(None, 0))[0]


def _flat_start(values: Floats, least: int, towers: Towers) -> tuple[Zero, int] | None:
    """Return zero and length of the flat stretch that values begin with."""
    if values.size < least:
        return None
    smooth = uniform_filter1d(values, max(3, round(_SMOOTH_S * towers.rate_hz)))
    first = smooth[: max(8, least // 2)]
    level = float(np.median(first))
    scatter = 1.4826 * float(np.median(np.abs(first - level)))
    bound = max(6 * scatter, 0.75 * towers.step)
    moved = np.flatnonzero(np.abs(smooth - level) > bound)
    length = int(moved[0]) if moved.size else values.size
    if length < least:
        return None
    inner = smooth[: max(8, round(0.9 * length))]
    return Zero(float(inner.mean()), _sigma(towers, inner.size), "rest"), length


def _sigma(towers: Towers, samples: int) -> float:
    coarse = towers.step / np.sqrt(12) if towers.noise < _DITHERED * towers.step else 0.0
    return float(np.hypot(coarse, towers.noise / np.sqrt(max(1, samples // 20))))


def plateau_sigma(towers: Towers) -> float:
    """Return what the recorder's step leaves unknown of a level, in the recording's unit."""
    return _sigma(towers, 2000)


def intake_zero(cycle: Floats, kpa_per_unit: float) -> Zero:
    """Return the zero of a cranked cylinder whose intake is open to the air.

    Parameters
    ----------
    cycle
        Mean cycle in the recording's unit, shape (720,).
    kpa_per_unit
        Scale.
    """
    level = float(cycle[_INTAKE_DEG].mean())
    return Zero(
        level + _INTAKE_UNDER_KPA / kpa_per_unit, _INTAKE_SIGMA_KPA / kpa_per_unit, "intake"
    )


def compression_zero(
    cycle: Floats, kpa_per_unit: float, geometry: Geometry, air_kpa: float
) -> Zero:
    """Return the zero at which compression follows p V^1.34 = const.

    Both the constant and the offset are linear in it. Its uncertainty is that of the exponent.
    """
    deg = np.rint(_LEG_DEG).astype(int) % CYCLE

    def offset(exponent: float, shape: Geometry) -> float:
        form = shape.volume(_LEG_DEG) ** -exponent
        sides = np.column_stack([form, np.ones(form.size)])
        fit = np.linalg.lstsq(sides, cycle[deg], rcond=None)[0]
        # the constant is the value at no pressure at all
        return float(fit[1]) + air_kpa / kpa_per_unit

    value = offset(_EXPONENT, geometry)
    sigmas = [offset(_EXPONENT + _EXPONENT_SIGMA, geometry) - value]
    if not geometry.is_known:
        sigmas.append(offset(_EXPONENT, geometry.with_ratio(1.15 * geometry.ratio)) - value)
    return Zero(value, float(np.hypot.reduce(sigmas)), "compression")
