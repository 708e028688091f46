"""What one mean cycle of a cylinder's pressure tells: dead centre, legs, plateaus, valves.

Angles are crank degrees from the firing top dead centre: compression -180 to 0, expansion 0 to
180, exhaust 180 to 360, intake 360 to 540.
"""

from dataclasses import dataclass, fields

import numpy as np

from traces.core.compression import Geometry
from traces.core.pressure.mean_cycle import CYCLE
from traces.core.waveform import Floats

_GAMMA = 1.33
"""Between the adiabatic exponent of warm air, 1.4 to 1.36, and what motored cylinders show."""
_LAG_SIGMA, _SWING_RAD = 0.01, 0.03
"""Misfit of one degree's logarithm, and how far the crank's swing within a firing usually moves
angles (our own estimate)."""
_GAMMA_BEGIN = 1.36
"""Exponent of the first part of compression, where the charge is about as warm as the wall."""
_SYMMETRY_DEG = np.arange(8.0, 66.0)
_COMPRESSION_DEG = np.arange(-75.0, -19.0)
_EXPANSION_DEG = np.arange(22.0, 86.0)
_LEGS_DEG = np.arange(25.0, 81.0)
_EXHAUST_MIDDLE_DEG = 278.0
_INTAKE_DEG = np.arange(435.0, 511.0)
_CHOKED_KPA, _LEAST_CHOKED = 190.0, 20
_EXHAUST_OPENS = 0.3
"""Share of the way to the exhaust's pressure at which the exhaust valve counts as open."""
_RISE = (1.12, 1.7)
"""Pressures over the intake's between which compression tells where it began."""
_LEAST_CONTRAST_KPA = 3.0


@dataclass(frozen=True, slots=True)
class CycleFigures:
    """Figures of a mean cycle; NaN where one does not show.

    Parameters
    ----------
    tdc_deg
        How far the top dead centre lies behind the middle of the tower.
    peak_kpa
        Greatest pressure, absolute.
    loss_deg
        How far before top dead centre it comes (thermodynamic loss angle).
    compression_exponent, expansion_exponent
        Of p V^n on both legs, by the volume of the geometry given.
    leg_loss
        Share of pressure that is missing on the expansion leg at the same volume, 25 to 80
        degrees.
    loss_rate
        Share of the charge's pressure lost in each radian about top dead centre.
    pocket_kpa
        Lowest pressure before the exhaust valve opens, absolute.
    exhaust_opens_deg
        Where the pressure has gone 30 % of the way from expansion to the exhaust's.
    exhaust_kpa, exhaust_high_kpa
        Mean and greatest pressure while the piston pushes out, absolute.
    exchange_begins_deg, exchange_deg, exchange_ends_deg
        Where the pressure has gone 10, 50 and 90 % of the way from exhaust to intake.
    intake_kpa
        Mean pressure of the intake stroke, absolute.
    intake_closes_deg
        Where compression, followed backwards, begins at the intake's pressure, 360 to 720.
    """

    tdc_deg: float
    peak_kpa: float
    loss_deg: float
    compression_exponent: float
    expansion_exponent: float
    leg_loss: float
    loss_rate: float
    pocket_kpa: float
    exhaust_opens_deg: float
    exhaust_kpa: float
    exhaust_high_kpa: float
    exchange_begins_deg: float
    exchange_deg: float
    exchange_ends_deg: float
    intake_kpa: float
    intake_closes_deg: float

    def row(self) -> Floats:
        """Return all figures in their order."""
        return np.array([getattr(self, one.name) for one in fields(self)])


NAMES = tuple(one.name for one in fields(CycleFigures))


class Curve:
    """Pressure of a mean cycle by crank angle from the middle of its tower, periodic."""

    def __init__(self, pressure_kpa: Floats, tdc_deg: float = 0.0) -> None:
        self._deg = np.arange(-CYCLE, 2 * CYCLE, dtype=np.float64)
        self._kpa = np.tile(pressure_kpa, 3)
        self._tdc_deg = tdc_deg

    def at(self, angle_deg: Floats) -> Floats:
        """Return pressures at angles from -360 to 1080."""
        return np.asarray(np.interp(angle_deg + self._tdc_deg, self._deg, self._kpa))


def cycle_figures(pressure_kpa: Floats, geometry: Geometry) -> CycleFigures:
    """Return the figures of a mean cycle.

    Parameters
    ----------
    pressure_kpa
        Absolute, by degree from the middle of the tower, shape (720,).
    geometry
        The cylinder's shape.
    """
    tdc_deg, loss_rate = _symmetry(Curve(pressure_kpa), geometry)
    curve = Curve(pressure_kpa, tdc_deg)
    top_deg, peak_kpa = _peak(curve)
    compression = _leg(curve, geometry, _COMPRESSION_DEG)
    expansion = _leg(curve, geometry, _EXPANSION_DEG)
    # whole pulses of the other cylinders in the port, where they are short enough
    pulse_deg = 720.0 / max(geometry.cylinders, 1)
    wide_deg = max(1, int(100.0 // pulse_deg)) * min(pulse_deg, 100.0)
    pushed_deg = _EXHAUST_MIDDLE_DEG + np.arange(-wide_deg / 2, wide_deg / 2)
    exhaust_kpa = float(curve.at(pushed_deg).mean())
    intake_kpa = float(curve.at(_INTAKE_DEG).mean())
    exchange = _exchange(curve, exhaust_kpa, intake_kpa)
    return CycleFigures(
        tdc_deg=tdc_deg,
        peak_kpa=peak_kpa,
        loss_deg=-top_deg,
        compression_exponent=compression[0],
        expansion_exponent=expansion[0],
        leg_loss=float(1 - (curve.at(_LEGS_DEG) / curve.at(-_LEGS_DEG)).mean()),
        loss_rate=loss_rate,
        pocket_kpa=float(_smooth(curve.at(np.arange(96.0, 205.0))).min()),
        exhaust_opens_deg=_exhaust_opens(curve, geometry, expansion, exhaust_kpa),
        exhaust_kpa=exhaust_kpa,
        exhaust_high_kpa=float(_smooth(curve.at(np.arange(200.0, 356.0)), 9).max()),
        exchange_begins_deg=exchange[0],
        exchange_deg=exchange[1],
        exchange_ends_deg=exchange[2],
        intake_kpa=intake_kpa,
        intake_closes_deg=_intake_closes(curve, geometry, intake_kpa),
    )


def _symmetry(curve: Curve, geometry: Geometry) -> tuple[float, float]:
    """Return how far top dead centre lies behind the tower's middle, and the loss a radian.

    Without losses both legs of a motored compression mirror each other at top dead centre. Leak
    and heat take pressure away the faster, the less the volume: at equal distance before and after
    it the logarithms of pressure differ by 2 F S, where F is the loss a radian at top dead centre
    and S the integral of clearance over volume. A middle that lies e before it adds 2 n e V'/V.
    Both are found by least squares, so that the peak's lead on top dead centre, the loss angle
    (Pipitone and Beccari, SAE 2007-24-0052), follows and need not be assumed.
    """
    deg = _SYMMETRY_DEG
    behind = 0.0
    rate = 0.0
    for _ in range(3):
        before, after = curve.at(behind - deg), curve.at(behind + deg)
        # below twice the air's pressure a leak no longer takes a share that hangs on volume alone
        ok = np.minimum(before, after) > _CHOKED_KPA
        if ok.sum() < _LEAST_CHOKED:
            ok = np.minimum(before, after) > 1.0
        if ok.sum() < _LEAST_CHOKED:
            return float("nan"), float("nan")
        lag = np.log(before[ok] / after[ok])
        fine = np.arange(0.0, deg[-1] + 0.5, 0.5)
        stored = np.cumsum(1.0 / geometry.volume(fine)) * np.deg2rad(0.5)
        loss = np.interp(deg[ok], fine, stored)
        slope = 2 * _GAMMA * geometry.slope(deg[ok])
        swings = 1 - np.cos(np.deg2rad(deg[ok]) * geometry.cylinders / 2)
        sides = np.column_stack([-slope, 2 * loss, slope * swings])
        weight = np.minimum(before, after)[ok]
        weight /= weight.max()
        # of the swing no more is known than how large it usually is
        held = np.array([0.0, 0.0, _LAG_SIGMA / _SWING_RAD])
        rows = np.vstack([sides * weight[:, None], held])
        fit = np.linalg.lstsq(rows, np.append(lag * weight, 0.0), rcond=None)[0]
        behind += float(np.clip(np.rad2deg(fit[0]), -8, 8))
        rate = float(fit[1])
    return behind, rate


def _peak(curve: Curve) -> tuple[float, float]:
    rough = np.arange(-25.0, 15.5, 0.5)
    top = float(rough[np.argmax(_smooth(curve.at(rough), 5))])
    near = np.arange(-7.0, 7.5)
    bend, lean, height = np.polyfit(near, curve.at(top + near), 2)
    if bend >= 0:
        return top, float(height)
    off = float(np.clip(-lean / (2 * bend), -7, 7))
    return top + off, float(height + lean * off + bend * off * off)


def _leg(curve: Curve, geometry: Geometry, deg: Floats) -> tuple[float, float]:
    """Return exponent and logarithm of p V^n of a leg, by weighted least squares."""
    pressure = np.maximum(curve.at(deg), 1.0)
    volume = np.log(geometry.volume(deg))
    slope, level = np.polyfit(volume, np.log(pressure), 1, w=pressure)
    return -float(slope), float(level)


def _exhaust_opens(
    curve: Curve, geometry: Geometry, expansion: tuple[float, float], exhaust_kpa: float
) -> float:
    deg = np.arange(95.0, 226.0)
    # behind the bottom the piston no longer expands what is left
    volume = geometry.volume(np.minimum(deg, 180.0))
    going_on = np.exp(expansion[1] - expansion[0] * np.log(volume))
    to_go = exhaust_kpa - going_on
    if abs(float(to_go[-1])) < _LEAST_CONTRAST_KPA:
        return float("nan")
    plain = to_go * np.sign(to_go[-1]) > 0.35 * abs(float(to_go[-1]))
    done = np.where(
        plain, (_smooth(curve.at(deg), 5) - going_on) / np.where(plain, to_go, 1.0), 0.0
    )
    return _last_below(deg, done, _EXHAUST_OPENS)


def _exchange(curve: Curve, exhaust_kpa: float, intake_kpa: float) -> tuple[float, float, float]:
    drop = exhaust_kpa - intake_kpa
    nothing = float("nan")
    if abs(drop) < 3 * _LEAST_CONTRAST_KPA:
        return nothing, nothing, nothing
    deg = np.arange(325.0, 425.5, 0.5)
    done = (exhaust_kpa - _smooth(curve.at(deg), 5)) / drop
    begins, half, ends = (_first_above(deg, done, share) for share in (0.1, 0.5, 0.9))
    return begins, half, ends


def _intake_closes(curve: Curve, geometry: Geometry, intake_kpa: float) -> float:
    deg = np.arange(-178.0, -20.0)
    over = _smooth(curve.at(deg), 5) / intake_kpa
    begin = _last_below(deg, over, _RISE[0])
    end = _last_below(deg, over, _RISE[1])
    if not end - begin > 4:
        return float("nan")
    part = np.arange(begin, end, 0.5)
    volume = np.log(geometry.volume(part))
    # the exponent is held: over so short a part it would follow noise
    level = float(np.mean(np.log(curve.at(part) / intake_kpa) + _GAMMA_BEGIN * volume))
    wanted = np.exp(level / _GAMMA_BEGIN)
    behind = np.arange(-180.0, -40.0, 0.25)
    volumes = geometry.volume(behind)
    if wanted >= volumes[0]:
        return 540.0
    return 720.0 + float(np.interp(-wanted, -volumes, behind))


def _last_below(deg: Floats, values: Floats, bound: float) -> float:
    """Return where values rise over a bound for good."""
    below = np.flatnonzero(values < bound)
    if below.size == 0 or below[-1] + 1 >= values.size:
        return float("nan")
    i = int(below[-1])
    part = (bound - values[i]) / (values[i + 1] - values[i])
    return float(deg[i] + part * (deg[i + 1] - deg[i]))


def _first_above(deg: Floats, values: Floats, bound: float) -> float:
    above = np.flatnonzero(values > bound)
    if above.size == 0 or above[0] == 0:
        return float("nan")
    i = int(above[0])
    part = (bound - values[i - 1]) / (values[i] - values[i - 1])
    return float(deg[i - 1] + part * (deg[i] - deg[i - 1]))


def _smooth(values: Floats, width: int = 5) -> Floats:
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), mode="valid")
