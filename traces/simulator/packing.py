"""Several engines side by side in arrays, so that one step moves all of them.

Shapes: B engines, C cylinders of the largest engine, in firing sequence. An engine with fewer
cylinders is filled up with cylinders whose `present` is 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from traces.core.compression import Array
from traces.simulator.engine import Cylinder, EngineModel, ValveTiming
from traces.simulator.scenario import Scenario

Ints: TypeAlias = NDArray[np.intp]

TABLE_PER_DEG = 2
TABLE_SIZE = 720 * TABLE_PER_DEG
MOST_CYCLES = 96
"""Cycles for which a cylinder's leak is drawn; a longer run keeps the last one."""

_MM2 = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class PackedEngines:
    """Engines in arrays; (B, 1) for an engine's, (B, C) for a cylinder's numbers.

    `intake_m2` and `exhaust_m2` hold valve areas by crank angle, flattened from
    (B, C, TABLE_SIZE), the first entry 360 degrees before firing top dead centre; `leak_m2`
    holds leaks by cycle, flattened from (B, C, MOST_CYCLES).
    """

    crank_m: Array
    rod_m: Array
    piston_m2: Array
    bore_m: Array
    clearance_m3: Array
    tdc_rad: Array
    present: Array
    mass_factor: Array
    intake_m2: Array
    exhaust_m2: Array
    leak_m2: Array
    healing_m2: Array
    healing_per_s: Array
    gasket: "PackedGaskets | None"
    weights: "PackedWeights | None"
    valve_base: Ints
    leak_base: Ints
    catches_s: Array

    @property
    def shape(self) -> tuple[int, int]:
        """(B, C)."""
        return self.clearance_m3.shape[0], self.clearance_m3.shape[1]


@dataclass(frozen=True, slots=True, eq=False)
class PackedGaskets:
    """Leaks between two cylinders: flat indices into (B, C) and areas, shape (leaks,)."""

    first: Ints
    second: Ints
    area_m2: Array


@dataclass(frozen=True, slots=True, eq=False)
class PackedWeights:
    """Decompression that weights let go of, each (B, 1); area 0 where an engine has none.

    `closes_rad` is the crank angle after firing top dead centre, negative.
    """

    area_m2: Array
    closes_rad: Array
    below_rad_s: Array


def pack(scenarios: Sequence[Scenario], rngs: Sequence[np.random.Generator]) -> PackedEngines:
    """Put the engines of `scenarios` side by side; `rngs` draw what varies by cycle."""
    engines = [s.engine for s in scenarios]
    most = max(len(e.cylinders) for e in engines)
    shape = (len(engines), most)
    crank_m, rod_m, piston_m2, bore_m = (np.empty((len(engines), 1)) for _ in range(4))
    clearance, tdc, present = np.empty(shape), np.zeros(shape), np.zeros(shape)
    mass, healing, healing_per_s = np.ones(shape), np.zeros(shape), np.zeros(shape)
    intake, exhaust = np.zeros((*shape, TABLE_SIZE)), np.zeros((*shape, TABLE_SIZE))
    leak = np.zeros((*shape, MOST_CYCLES))
    for b, (engine, rng) in enumerate(zip(engines, rngs, strict=True)):
        link = engine.linkage
        crank_m[b], rod_m[b] = link.stroke_m / 2, link.rod_m
        piston_m2[b], bore_m[b] = link.piston_m2, link.bore_m
        clearance[b] = link.clearance_m3
        for c, (number, angle_deg) in enumerate(engine.firing_order):
            cylinder = engine.cylinders[number - 1]
            present[b, c] = 1
            tdc[b, c] = np.deg2rad(angle_deg)
            clearance[b, c] = link.clearance_m3 * cylinder.clearance_factor
            mass[b, c] = cylinder.mass_factor
            intake[b, c], exhaust[b, c] = _valve_areas(engine.timing, cylinder)
            leak[b, c] = _leak_by_cycle(cylinder, rng)
            if np.isfinite(cylinder.fault_recovery_s):
                healing[b, c] = cylinder.fault_leak_mm2 * _MM2
                healing_per_s[b, c] = 1 / cylinder.fault_recovery_s
    cells = np.arange(len(engines) * most).reshape(shape)
    return PackedEngines(
        crank_m=crank_m,
        rod_m=rod_m,
        piston_m2=piston_m2,
        bore_m=bore_m,
        clearance_m3=clearance,
        tdc_rad=tdc,
        present=present,
        mass_factor=mass,
        intake_m2=intake.ravel(),
        exhaust_m2=exhaust.ravel(),
        leak_m2=leak.ravel(),
        healing_m2=healing,
        healing_per_s=healing_per_s,
        gasket=_pack_gaskets(engines, most),
        weights=_pack_weights(engines),
        valve_base=cells * TABLE_SIZE,
        leak_base=cells * MOST_CYCLES,
        catches_s=np.array([[s.flaws.catches_after_s] for s in scenarios]),
    )


def _pack_weights(engines: Sequence[EngineModel]) -> PackedWeights | None:
    timings = [e.timing for e in engines]
    let_go = [bool(t.decompression_mm2) and np.isfinite(t.decompression_below_rpm) for t in timings]
    if not any(let_go):
        return None

    def each(values: list[float]) -> Array:
        return np.where(let_go, values, 0.0)[:, None]

    return PackedWeights(
        area_m2=each([t.decompression_mm2 * _MM2 for t in timings]),
        closes_rad=each([-np.deg2rad(t.decompression_closes_btdc_deg) for t in timings]),
        below_rad_s=each([t.decompression_below_rpm * np.pi / 30 for t in timings]),
    )


def _pack_gaskets(engines: Sequence[EngineModel], most: int) -> PackedGaskets | None:
    leaks = [(b, e.firing_order, e.gasket) for b, e in enumerate(engines) if e.gasket]
    if not leaks:
        return None
    ends = [
        [b * most + order.position_of(gasket.between[end]) for b, order, gasket in leaks]
        for end in (0, 1)
    ]
    return PackedGaskets(
        first=np.array(ends[0], dtype=np.intp),
        second=np.array(ends[1], dtype=np.intp),
        area_m2=np.array([gasket.area_mm2 * _MM2 for _, _, gasket in leaks]),
    )


def _leak_by_cycle(cylinder: Cylinder, rng: np.random.Generator) -> Array:
    """Return leak areas in m2, shape (MOST_CYCLES,): a little scatter, and a fault on and off."""
    # two draws whatever the cylinder is, so that one cylinder's fault leaves the others alone
    scatter, chance = rng.normal(0, 0.06, MOST_CYCLES), rng.random(MOST_CYCLES)
    areas = cylinder.leak_mm2 * np.exp(scatter)
    if not np.isfinite(cylinder.fault_recovery_s):
        is_open = chance < cylinder.fault_share_of_cycles
        areas = areas + cylinder.fault_leak_mm2 * np.exp(scatter / 2) * is_open
    return areas * _MM2


def _valve_areas(timing: ValveTiming, cylinder: Cylinder) -> tuple[Array, Array]:
    """Return intake and exhaust areas in m2 by crank angle, each shape (TABLE_SIZE,)."""
    # 0 is the dead centre between exhaust and intake; the exhaust valve is open around it
    angle = (np.arange(TABLE_SIZE) + 0.5) / TABLE_PER_DEG
    opens = -timing.intake_opens_btdc_deg + cylinder.late_closing_deg
    closes = 180 + timing.intake_closes_abdc_deg + cylinder.late_closing_deg
    lift = np.minimum(_lift(angle, opens, closes), cylinder.intake_lift)
    intake = lift * timing.intake_area_mm2 * cylinder.intake_area_factor
    opens = 540 - timing.exhaust_opens_bbdc_deg + cylinder.late_exhaust_deg
    closes = 720 + timing.exhaust_closes_atdc_deg + cylinder.late_exhaust_deg
    exhaust = _lift(angle, opens, closes) * timing.exhaust_area_mm2 * cylinder.exhaust_lift
    if timing.decompression_mm2 and np.isinf(timing.decompression_below_rpm):
        held = (angle > 180) & (angle < 360 - timing.decompression_closes_btdc_deg)
        exhaust = exhaust + timing.decompression_mm2 * held
    return intake * _MM2, exhaust * _MM2


def _lift(angle: Array, opens: float, closes: float) -> Array:
    """Return a smooth lift from 0 to 1 between two angles, on a circle of 720 degrees."""
    through = ((angle - opens) % 720) / (closes - opens)
    return np.where(through < 1, np.sin(np.pi * np.minimum(through, 1)) ** 2, 0.0)
