"""What the twin is free to choose, and what is known before looking at the trace.

Currents count in units of the mean cranking current, torques in the current that makes them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.drive import TwinDrive
from traces.core.twin.motor import Motor
from traces.core.twin.second_mass import SecondMass

Floats = NDArray[np.float64]

INERTIA, SHARE, STALL, FRICTION, DRAG, KNEE, PHASE, SCALE, RATIO, LEVEL, LAG, VACUUM, REMANENCE = (
    range(13)
)
SPLIT, NATURAL, DAMPING, BANK, STROKES = range(13, 18)
"""ln inertia, logit of the starter's part of it, ln stall current, engine friction, starter drag,
knee of a wound field, phase of top dead centre, ln lobe scale, place in the compression ratios,
and the peak share that sound cylinders have in common. Of a two-mass flywheel the part of the
engine's inertia behind the spring (0 where there is none), ln natural frequency in Hz, and ln
damping ratio. How far the trapped masses of banks lie apart (0 where banks are not asked). Strokes
of a pump in a cycle, 0 where none is thought of, never fitted. Then for each cylinder a peak
share, a change of trapped mass, and ln of its clearance over the engine's."""
RIPPLES = slice(18, 30)
"""Cosines and sines of other loads that repeat with the crank: cam, pumps, a bind."""
PUMP = slice(30, 34)
"""Cosine and sine of a pump's strokes, and of twice as many: a lobe pushes by half a wave."""
ENGINE = 34
_OWN = np.r_[0:18, PUMP]
LAG_UNIT_S = 1e-3
PHASE_UNIT_DEG = 10.0

_SHARE_SPREAD = 0.04
_MASS_SPREAD = 0.02
_CLEARANCE_SPREAD = 0.015
_MOST_MASS = 0.05
"""All cylinders breathe from one manifold: a cylinder far too high is so by its clearance."""
_CYLINDER = (
    (0.0, _SHARE_SPREAD, 0.0, 1.0),
    (0.0, _MASS_SPREAD, -0.9, _MOST_MASS),
    (0.0, _CLEARANCE_SPREAD, -0.5, 1.0),
)
"""Centre, spread and bounds of peak share, trapped mass and ln clearance."""

_RIPPLE_SPREADS = (0.01, 0.02, 0.02, 0.02, 0.03, 0.01)
"""Of the orders of `ripple_shapes`, in mean torques: a valve train or a pump takes some newton
metres of fifty (from memory)."""

_TWO_MASSES: dict[int, tuple[float, float, float, float]] = {
    # half to a third of the engine's inertia is behind the spring, and it swings below idle
    # speed: 6 to 20 Hz (from memory)
    SPLIT: (0.38, 0.10, 0.05, 0.65),
    NATURAL: (np.log(11.0), 0.40, np.log(4.0), np.log(30.0)),
    DAMPING: (np.log(0.08), 0.50, np.log(0.01), np.log(0.5)),
}
_ONE_MASS: dict[int, tuple[float, float, float, float]] = {
    SPLIT: (0.0, 1.0, 0.0, 0.0),
    NATURAL: (np.log(11.0), 1.0, np.log(4.0), np.log(30.0)),
    DAMPING: (np.log(0.08), 1.0, np.log(0.01), np.log(0.5)),
}
"""Centre, spread and bounds, with a spring in the flywheel and without."""

_BANKS_ALIKE = (0.0, 1.0, 0.0, 0.0)
_BANKS_FREE = (0.0, 0.10, -0.6, 0.6)
"""Centre, spread and bounds of how far the banks' masses lie apart. One tooth of a camshaft takes
2 to 26 % of a simulated cylinder's filling."""
_MOST_MASS_OF_BANK = 0.15
"""A bank whose cam is early holds more than cylinders do by chance."""

_STROKE_SPREADS = (0.20, 0.07)
"""Of a pump's strokes and of twice as many, in mean torques: 5 to 25 newton metres of fifty."""
_CYLINDERS_OF_FIFTY_NM = 4
"""Larger engines resist with more, their pumps do not: spreads fall as cylinders rise."""

_PUMP_RARER = 12.0
"""Twice the log of how much rarer such pumps are than engines without one, and of what they are
free to choose."""

_TAIL = 1.0  # freedom of the heavy tails: a fault is not held back by being unusual


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """Centre, spread and bounds of each parameter, shape (ENGINE + 3 n,).

    The engine's own are normal. Peak shares scatter about their common level, masses and
    clearances about 0, with heavy tails: most cylinders are alike, some are not at all.

    `apart` is the share of BANK about which each cylinder's mass scatters instead, shape (n,).
    """

    cylinders: int
    centre: Floats
    spread: Floats
    low: Floats
    high: Floats
    apart: Floats
    shares: slice = field(init=False)
    masses: slice = field(init=False)
    clearances: slice = field(init=False)

    def __post_init__(self) -> None:
        n = self.cylinders
        object.__setattr__(self, "shares", slice(ENGINE, ENGINE + n))
        object.__setattr__(self, "masses", slice(ENGINE + n, ENGINE + 2 * n))
        object.__setattr__(self, "clearances", slice(ENGINE + 2 * n, ENGINE + 3 * n))

    def cost(self, values: Floats) -> float:
        """Return twice the negative logarithm of the prior, up to a constant."""
        z = self._unusual(values)
        ripple = values[RIPPLES] / self.spread[RIPPLES]
        cost = self.strangeness(values) + float(ripple @ ripple)
        return cost + float(_TAIL * np.log1p(z * z / _TAIL).sum())

    def strangeness(self, values: Floats) -> float:
        """Return the part of the cost that engine, pump and starter as such have."""
        off = (values[_OWN] - self.centre[_OWN]) / self.spread[_OWN]
        rarer = _PUMP_RARER if self.high[STROKES] > 0 else 0.0
        return float(off @ off) + rarer

    def pull(self, values: Floats) -> tuple[Floats, Floats]:
        """Return the gradient of half the cost and a positive matrix for its curvature."""
        size = values.size
        gradient, matrix = np.zeros(size), np.zeros((size, size))
        weight = 1 / self.spread[:ENGINE] ** 2
        gradient[:ENGINE] = weight * (values[:ENGINE] - self.centre[:ENGINE])
        matrix[np.arange(ENGINE), np.arange(ENGINE)] = weight
        z = self._unusual(values)
        spread = self.spread[ENGINE:]
        weight = 1 / (1 + z * z / _TAIL) / spread**2
        each = np.arange(ENGINE, size)
        gradient[ENGINE:] = weight * z * spread
        matrix[each, each] = weight
        of_shares = weight[: self.cylinders]
        of_masses = weight[self.cylinders : 2 * self.cylinders]
        gradient[BANK] -= float(self.apart @ gradient[self.masses])
        matrix[BANK, BANK] += float(self.apart**2 @ of_masses)
        matrix[BANK, self.masses] = matrix[self.masses, BANK] = -self.apart * of_masses
        gradient[LEVEL] -= float(gradient[self.shares].sum())
        matrix[LEVEL, LEVEL] += float(of_shares.sum())
        matrix[LEVEL, self.shares] = -of_shares
        matrix[self.shares, LEVEL] = -of_shares
        return gradient, matrix

    def _unusual(self, values: Floats) -> Floats:
        off = values[ENGINE:].copy()
        off[: self.cylinders] -= values[LEVEL]
        off[self.cylinders : 2 * self.cylinders] -= values[BANK] * self.apart
        return np.asarray(off / self.spread[ENGINE:], dtype=np.float64)


def knowledge(
    cylinders: int,
    *,
    inrush: float | None,
    phase_deg: float,
    phase_spread_deg: float,
) -> Knowledge:
    """Return what is known of an engine before its trace.

    Parameters
    ----------
    cylinders
        How many.
    inrush
        Peak of the inrush over the mean cranking current; None where it was not recorded.
    phase_deg, phase_spread_deg
        Where the first firing top dead centre is expected in the cycle.
    """
    rows: dict[int, tuple[float, float, float, float]] = {
        # crank 0.1 to 0.4 kg m2, starter as much again at the crank, 0.4 N m a ampere there,
        # no-load speed 35 rad/s (FACTS of makers' data sheets; no-load speed from memory)
        INERTIA: (np.log(4.0), 0.8, np.log(0.3), np.log(80.0)),
        SHARE: (0.0, 0.8, -3.0, 3.0),
        # a starter cranks at a fifth to a third of its stall current
        STALL: (np.log(4.2), 0.35, np.log(1.5), np.log(20.0)),
        FRICTION: (0.35, 0.3, 0.0, 1.2),
        DRAG: (0.10, 0.10, 0.0, 0.6),
        KNEE: (0.0, 0.6, 0.0, 5.0),
        PHASE: (phase_deg / PHASE_UNIT_DEG, phase_spread_deg / PHASE_UNIT_DEG, -100.0, 100.0),
        SCALE: (np.log(0.5), 1.0, np.log(0.02), np.log(8.0)),
        RATIO: (3.0, 0.5, 1.5, 4.0),
        LEVEL: (0.90, 0.15, 0.3, 1.0),
        # an armature's inductance: 3 to 10 ms (from memory)
        LAG: (4.0, 2.0, 0.0, 12.0),
        # manifold under atmosphere, share of it: shut throttle or open
        VACUUM: (0.06, 0.06, 0.0, 0.35),
        REMANENCE: (0.08, 0.08, 0.0, 0.5),
        **_ONE_MASS,
        BANK: _BANKS_ALIKE,
        **_pump_rows(0, cylinders),
    }
    if inrush is not None:
        # inductance and run-up keep the inrush under the stall current
        rows[STALL] = (np.log(max(1.1 * inrush, 1.8)), 0.25, np.log(1.5), np.log(20.0))
    for i, spread in enumerate(np.repeat(_RIPPLE_SPREADS, 2)):
        rows[RIPPLES.start + i] = (0.0, spread, -0.5, 0.5)
    engine = np.array([rows[i] for i in range(ENGINE)], dtype=np.float64)
    ends = [
        np.concatenate((column, np.repeat(of_cylinders, cylinders)))
        for column, of_cylinders in zip(engine.T, np.array(_CYLINDER).T, strict=True)
    ]
    centre, spread, low, high = ends
    return Knowledge(cylinders, centre, spread, low, high, apart=np.zeros(cylinders))


def with_two_masses(known: Knowledge) -> Knowledge:
    """Return what is known of the same engine with a two-mass flywheel."""
    return _with_rows(known, _TWO_MASSES)


def with_one_mass(known: Knowledge) -> Knowledge:
    """Return what is known of the same engine with a rigid flywheel."""
    return _with_rows(known, _ONE_MASS)


def with_banks_free(known: Knowledge, in_bank: NDArray[np.bool_]) -> Knowledge:
    """Return what is known of the same engine where one bank may differ from the others.

    Parameters
    ----------
    in_bank
        Which cylinders are of that bank, shape (n,).
    """
    free = _with_rows(known, {BANK: _BANKS_FREE})
    free.high[free.masses] = _MOST_MASS_OF_BANK
    return replace(free, apart=np.where(in_bank, -0.5, 0.5))


def with_pump(known: Knowledge, strokes: int) -> Knowledge:
    """Return what is known of the same engine with a pump of so many strokes in a cycle."""
    return _with_rows(known, _pump_rows(strokes, known.cylinders))


def _pump_rows(strokes: int, cylinders: int) -> dict[int, tuple[float, float, float, float]]:
    rows = {STROKES: (float(strokes), 1.0, float(strokes), float(strokes))}
    most = 1.0 if strokes else 0.0
    share = min(1.0, _CYLINDERS_OF_FIFTY_NM / cylinders)
    for i, spread in enumerate(share * np.repeat(_STROKE_SPREADS, 2)):
        rows[PUMP.start + i] = (0.0, spread, -most, most)
    return rows


def _with_rows(known: Knowledge, rows: Mapping[int, tuple[float, ...]]) -> Knowledge:
    columns = [c.copy() for c in (known.centre, known.spread, known.low, known.high)]
    for at, row in rows.items():
        for column, value in zip(columns, row, strict=True):
            column[at] = value
    centre, spread, low, high = columns
    return replace(known, centre=centre, spread=spread, low=low, high=high)


@lru_cache(maxsize=16)
def ripple_shapes(cylinders: int, steps: int) -> Floats:
    """Return the load of a unit of each ripple in the middle of each step, (steps, ripples)."""
    return _waves((1, 2, 3, 4, cylinders, 2 * cylinders), steps)


@lru_cache(maxsize=16)
def pump_shapes(strokes: int, steps: int) -> Floats:
    """Return the load of a unit of each wave of a pump in the middle of each step, (steps, 4)."""
    return _waves((strokes, 2 * strokes), steps)


def _waves(orders: tuple[int, ...], steps: int) -> Floats:
    angle_rad = (np.arange(steps) + 0.5) * (2 * np.pi / steps)
    turned = angle_rad[:, None] * np.array(orders)
    shapes = np.stack([np.cos(turned), np.sin(turned)], axis=2).reshape(steps, -1)
    shapes.setflags(write=False)
    return np.asarray(shapes)


def drive_of(values: Floats) -> TwinDrive:
    """Return the drive that a set of parameters means, without what hangs behind a spring."""
    stall, knee, drag, remanence = (float(values[i]) for i in (STALL, KNEE, DRAG, REMANENCE))
    motor = Motor(float(np.exp(stall)), knee, drag, remanence)
    share = logistic(float(values[SHARE]))
    left = 1 - (1 - share) * float(values[SPLIT])
    return TwinDrive(float(np.exp(values[INERTIA])) * left, share / left, motor)


def second_mass_of(values: Floats) -> SecondMass | None:
    """Return what hangs behind the spring of a two-mass flywheel; None where there is none."""
    split = float(values[SPLIT])
    if split <= 0:
        return None
    engine = float(np.exp(values[INERTIA])) * (1 - logistic(float(values[SHARE])))
    frequency_hz, damping = float(np.exp(values[NATURAL])), float(np.exp(values[DAMPING]))
    return SecondMass(engine * split, split, frequency_hz, damping)


def logistic(value: float) -> float:
    """Return 1 / (1 + exp(-value))."""
    return float(1 / (1 + np.exp(-value)))
