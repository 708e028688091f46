"""One cylinder's pressure, from samples to figures with their intervals."""

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from traces.core.compression import Geometry
from traces.core.pressure.cycle_figures import NAMES, CycleFigures, cycle_figures
from traces.core.pressure.errors import PressureError
from traces.core.pressure.mean_cycle import CYCLE, Cycles, lay_cycles
from traces.core.pressure.towers import Towers, find_towers
from traces.core.pressure.zero import (
    Zero,
    compression_zero,
    intake_zero,
    plateau_sigma,
    rest_zero,
)
from traces.core.report import (
    Interval,
    KneeScatter,
    PressureCurve,
    PressureFigures,
    PressureState,
)
from traces.core.waveform import Floats

_RUNS_FROM_RPM = 450.0
_DRAWN = 32
_UNKNOWN_RATIO = 0.15
_SWING = {"cranking": 0.24, "running": 0.05}
"""Usual swing of the crank's speed within a cycle, times the number of cylinders (our own estimate
from simulated engines and open logs of crank teeth)."""
_HELD_DEG = 1.0
"""What one mean cycle leaves unknown of any angle."""
_MOST_SPREAD, _LEAST_OF_MEDIAN = 0.04, 0.85
_PEAKS_KPA = {"cranking": (50.0, 6000.0), "running": (50.0, 4500.0)}
_EXPONENTS = (0.95, 1.95)
_LEAKY = 0.35
_GAINS = {"cranking": (-0.30, -0.25, -3.0), "running": (-0.08, -0.08, -0.8)}
"""Leg loss, loss a radian and loss angle (degrees) under which something adds pressure: sound
simulated engines stay above half of these while cranking, and above 0 at idle."""
_LOW_GAUGE_KPA = 0.9
_AIR_SIGMA_KPA = 2.0
_DRIFT_KPA_PER_S, _PLATEAU_SHARE = 0.15, 0.008
"""How fast a transducer's zero walks while it warms, and what pulses and the valve's resistance
leave unknown of the pressure behind it (our own estimates)."""


@dataclass(frozen=True, slots=True)
class PressureInput:
    """What is known of a recording beside its samples.

    Parameters
    ----------
    kpa_per_unit
        Scale of the channel's unit.
    geometry
        The cylinder's shape.
    air_kpa, is_air_known
        Absolute pressure of the air.
    zero
        The channel's value at the pressure of the air; None where nobody said it.
    cylinder
        Its number.
    """

    kpa_per_unit: float
    geometry: Geometry
    air_kpa: float = 101.3
    is_air_known: bool = False
    zero: float | None = None
    cylinder: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Figures, and where they were taken.

    Parameters
    ----------
    figures
        As reports hold them.
    judged_s
        From the first tower to the last, from the start of the recording.
    tdc_s
        Firing top dead centres, from the start of the recording.
    """

    figures: PressureFigures
    judged_s: tuple[float, float]
    tdc_s: Floats


def measure(values: Floats, rate_hz: float, known: PressureInput) -> Measured:
    """Measure one cylinder's pressure.

    Parameters
    ----------
    values
        Samples in the channel's unit, NaN for gaps, shape (samples,).
    rate_hz
        Samples a second.
    known
        Scale, geometry, air and zero.

    Raises
    ------
    PressureError
        If the recording allows no figures.
    """
    towers = find_towers(values, rate_hz)
    cycles = lay_cycles(towers)
    state: PressureState = "running" if towers.rpm > _RUNS_FROM_RPM else "cranking"
    mean = cycles.mean()
    zero = _zero(towers, mean, state, known)
    found = _Found(cycles, towers, zero, known, state)
    found.check()
    return found.measured()


def _zero(towers: Towers, mean: Floats, state: PressureState, known: PressureInput) -> Zero:
    if known.zero is not None:
        return Zero(known.zero, plateau_sigma(towers), "entered")
    rest = rest_zero(towers)
    if rest is not None:
        return rest
    if state == "cranking":
        return intake_zero(mean, known.kpa_per_unit)
    return compression_zero(mean, known.kpa_per_unit, known.geometry, known.air_kpa)


class _Found:
    """Figures of the mean cycle, and of those that assumptions and chance would have given."""

    def __init__(
        self,
        cycles: Cycles,
        towers: Towers,
        zero: Zero,
        known: PressureInput,
        state: PressureState,
    ) -> None:
        self._cycles, self._towers, self._zero = cycles, towers, zero
        self._known, self._state = known, state
        self._mean_kpa = self._absolute(cycles.mean())
        self.plain = cycle_figures(self._mean_kpa, known.geometry)
        rows = self.plain.row()
        drawn = np.array([figures.row() for figures in self._drawn()])
        self.scatter = _deviation(drawn, rows)
        assumed = np.array([figures.row() for figures in self._assumed()]) - rows
        with np.errstate(invalid="ignore"):
            self.sigma = np.sqrt(self.scatter**2 + np.nansum(assumed**2, axis=0))
        walked_kpa = _DRIFT_KPA_PER_S * float(towers.values.size / towers.rate_hz) / 2
        self._level_kpa = float(np.hypot(plateau_sigma(towers) * known.kpa_per_unit, walked_kpa))

    def _absolute(self, cycle: Floats) -> Floats:
        gauge = (cycle - self._zero.value) * self._known.kpa_per_unit
        return np.asarray(gauge + self._known.air_kpa)

    def _drawn(self) -> Iterator[CycleFigures]:
        """Yield figures of cycles drawn anew from those there are (bootstrap)."""
        rng = np.random.default_rng(1)
        count = self._cycles.rows.shape[0]
        for _ in range(_DRAWN):
            chosen = np.asarray(rng.integers(0, count, count))
            mean = self._cycles.mean(chosen)
            yield cycle_figures(self._absolute(mean), self._known.geometry)

    def _assumed(self) -> Iterator[CycleFigures]:
        """Yield figures with each assumption a standard deviation off."""
        geometry, kpa = self._known.geometry, self._mean_kpa
        air = 0.0 if self._known.is_air_known else _AIR_SIGMA_KPA
        zero_kpa = self._zero.sigma * self._known.kpa_per_unit
        shift = float(np.hypot(zero_kpa, air))
        yield cycle_figures(np.maximum(kpa + shift, 1.0), geometry)
        if not geometry.is_known:
            yield cycle_figures(kpa, geometry.with_ratio((1 + _UNKNOWN_RATIO) * geometry.ratio))
        share = _SWING[self._state] / max(geometry.cylinders, 1) / np.sqrt(2)
        for late_deg in (0.0, 180.0 / geometry.cylinders):
            yield cycle_figures(_warped(kpa, share, geometry.cylinders, late_deg), geometry)

    def check(self) -> None:
        """Raise where the figures are those of no cylinder, of fire or of another scale."""
        gains = zip(
            (self.plain.leg_loss, self.plain.loss_rate, self.plain.loss_deg),
            _GAINS[self._state],
            strict=True,
        )
        if any(figure < least for figure, least in gains):
            raise PressureError("fires")
        gauge = self.plain.peak_kpa - self._known.air_kpa
        low, high = _PEAKS_KPA[self._state]
        exponent = self.plain.compression_exponent
        leaks = self.plain.leg_loss > _LEAKY
        wild = not _EXPONENTS[0] < exponent < _EXPONENTS[1] and not (leaks and exponent < 1.5)
        empty = self.plain.intake_kpa - self._known.air_kpa < -_LOW_GAUGE_KPA * self._known.air_kpa
        if not low < gauge < high or wild or empty:
            raise PressureError("scale", peak=f"{gauge:.0f}")
        if not np.isfinite(self.plain.tdc_deg):
            raise PressureError("shape")

    def measured(self) -> Measured:
        """Return what reports hold."""
        towers, known, plain = self._towers, self._known, self.plain
        place = np.arange(towers.centre_s.size, dtype=np.float64)
        tdc_s = np.interp(place + plain.tdc_deg / CYCLE, place, towers.centre_s)
        deg_per_s = float(self._cycles.deg_per_s.mean())
        radians_per_s = np.deg2rad(deg_per_s)
        peaks = (towers.height + towers.level - self._zero.value) * known.kpa_per_unit
        spread = float(peaks.std(ddof=1) / peaks.mean())
        unalike = (
            towers.missed > 0
            or spread > _MOST_SPREAD
            or float(peaks.min()) < _LEAST_OF_MEDIAN * float(np.median(peaks))
        )
        deg = np.arange(-180.0, 541.0, 2.0)
        grid = np.arange(-CYCLE, 2 * CYCLE, dtype=np.float64)
        curve = np.interp(deg + plain.tdc_deg, grid, np.tile(self._mean_kpa, 3)) - known.air_kpa
        opens, closes = self._figure("exhaust_opens_deg", 1), self._figure("intake_closes_deg", 1)
        figures = PressureFigures(
            state=self._state,
            cylinder=known.cylinder,
            rpm=round(towers.rpm, 1),
            cycles=int(self._cycles.rows.shape[0]),
            missed=towers.missed,
            zero_from=self._zero.source,
            air_kpa=round(known.air_kpa, 2),
            is_air_known=known.is_air_known,
            compression_ratio=known.geometry.ratio,
            is_ratio_known=known.geometry.is_known,
            peak_kpa=self._gauge("peak_kpa"),
            peaks_kpa=tuple(round(float(p), 1) for p in peaks),
            peak_spread_percent=round(100 * spread, 2),
            towers="unalike" if unalike else "alike",
            loss_deg=self._figure("loss_deg", 2),
            compression_exponent=self._figure("compression_exponent", 3),
            expansion_exponent=self._figure("expansion_exponent", 3),
            leg_loss_percent=self._figure("leg_loss", 1, factor=100.0),
            loss_per_s=self._figure("loss_rate", 2, factor=radians_per_s),
            pocket_kpa=self._gauge("pocket_kpa"),
            exhaust_opens_deg=opens,
            back_pressure_kpa=self._gauge("exhaust_kpa"),
            back_pressure_high_kpa=self._gauge("exhaust_high_kpa"),
            exchange_begins_deg=self._figure("exchange_begins_deg", 1),
            exchange_deg=self._figure("exchange_deg", 1),
            exchange_ends_deg=self._figure("exchange_ends_deg", 1),
            intake_kpa=self._gauge("intake_kpa"),
            intake_closes_deg=closes,
            exhaust_opens_before_bottom_deg=None if opens is None else round(180 - opens.value, 1),
            intake_closes_after_bottom_deg=None if closes is None else round(closes.value - 540, 1),
            curve=PressureCurve(-180.0, 2.0, tuple(round(float(p), 2) for p in curve)),
            scatter=KneeScatter(
                **{one.name: self._scatter_deg(one.name) for one in fields(KneeScatter)}
            ),
        )
        judged = (float(towers.centre_s[0]), float(towers.centre_s[-1]))
        return Measured(figures, judged, tdc_s)

    def _scatter_deg(self, name: str) -> float | None:
        sigma = float(self.scatter[NAMES.index(name)])
        return round(sigma, 4) if np.isfinite(sigma) else None

    def _figure(self, name: str, digits: int, *, factor: float = 1.0) -> Interval | None:
        at = NAMES.index(name)
        value, sigma = float(self.plain.row()[at]), float(self.sigma[at])
        if not (np.isfinite(value) and np.isfinite(sigma)):
            return None
        if name.endswith("_deg"):
            sigma = float(np.hypot(sigma, _HELD_DEG / 2))
        half = 1.96 * abs(factor) * sigma
        value *= factor
        return Interval(
            round(value, digits), round(value - half, digits), round(value + half, digits)
        )

    def _gauge(self, name: str) -> Interval:
        """Return a pressure over the air's: of it the air's own uncertainty is no part."""
        at = NAMES.index(name)
        value = float(self.plain.row()[at]) - self._known.air_kpa
        zero_kpa = self._zero.sigma * self._known.kpa_per_unit
        plateau_kpa = _PLATEAU_SHARE * float(self.plain.row()[at])
        parts = (float(self.scatter[at]), zero_kpa, self._level_kpa, plateau_kpa)
        sigma = np.hypot.reduce(parts)
        half = 1.96 * float(sigma)
        return Interval(round(value, 1), round(value - half, 1), round(value + half, 1))


def _warped(kpa: Floats, share: float, cylinders: int, late_deg: float) -> Floats:
    """Return the cycle as it is where the crank's speed swings within the cycle."""
    deg = np.arange(CYCLE, dtype=np.float64)
    turns = np.deg2rad((deg - late_deg) * cylinders / 2)
    moved = np.rad2deg(share * 2 / cylinders) * np.sin(turns)
    moved -= moved[0]
    grid = np.arange(-CYCLE, 2 * CYCLE, dtype=np.float64)
    return np.asarray(np.interp(deg + moved, grid, np.tile(kpa, 3)))


def _deviation(drawn: Floats, plain: Floats) -> Floats:
    """Return each figure's standard deviation; NaN where it mostly does not show."""
    shows = np.isfinite(drawn)
    count = shows.sum(axis=0)
    middle = np.where(shows, drawn, 0.0).sum(axis=0) / np.maximum(count, 1)
    squares = np.where(shows, (drawn - middle) ** 2, 0.0).sum(axis=0) / np.maximum(count - 1, 1)
    enough = (count > 0.7 * drawn.shape[0]) & np.isfinite(plain)
    return np.asarray(np.where(enough, np.sqrt(squares), np.nan))
