"""Idling engines drawn by seed: 3 to 8 cylinders, wheels of 24 to 120 places, faults."""

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import FiringOrder
from traces.simulator.running.idle import Idle, Physics

IdleFault: TypeAlias = Literal["none", "dead", "weak", "pair", "comes-and-goes"]
FAULTS: tuple[IdleFault, ...] = ("none", "dead", "weak", "pair", "comes-and-goes")

ORDERS: Mapping[int, tuple[str, ...]] = MappingProxyType(
    {
        3: ("1-3-2", "1-2-3"),
        4: ("1-3-4-2", "1-2-4-3"),
        5: ("1-2-4-5-3",),
        6: ("1-5-3-6-2-4", "1-2-3-4-5-6"),
        8: ("1-8-4-3-6-5-7-2", "1-5-4-2-6-3-7-8"),
    }
)
"""All of them fire evenly."""

WHEELS = ((24, (1,)), (36, (1,)), (60, (2,)), (60, (2,)), (120, (2,)))


def draw_idle(
    seed: int,
    *,
    physics: Physics,
    cylinders: int,
    fault: IdleFault = "none",
    low: tuple[int, ...] = (),
) -> Idle:
    """Return an idling engine.

    Parameters
    ----------
    low
        Cylinder numbers that have the fault; drawn where none are given.
    """
    rng = np.random.default_rng([seed, 900])
    order = FiringOrder.parse(ORDERS[cylinders][int(rng.integers(len(ORDERS[cylinders])))])
    teeth, gaps = WHEELS[int(rng.integers(len(WHEELS)))]
    numbers = list(order.sequence)
    count = 0 if fault == "none" else 2 if fault == "pair" else 1
    drawn = tuple(int(c) for c in rng.choice(numbers, size=count, replace=False))
    chosen = (low or drawn) if count else ()
    share = 0.0 if fault in ("dead", "pair") else float(rng.uniform(0.3, 0.65))
    even = {c: float(np.clip(rng.normal(1.0, 0.03), 0.93, 1.07)) for c in numbers}
    bad = {} if fault == "comes-and-goes" else dict.fromkeys(chosen, share)
    often = float(rng.uniform(0.25, 0.5))
    litres = float(rng.uniform(0.3, 0.6))
    idle = Idle(
        seed=seed,
        physics=physics,
        order=order,
        burn=even | bad,
        missing=dict.fromkeys(chosen, often) if fault == "comes-and-goes" else {},
        scatter=float(rng.uniform(0.03, 0.10)),
        cylinder_l=litres,
        compression_ratio=float(rng.uniform(9.5, 12.0)),
        rod_over_crank=float(rng.uniform(3.0, 3.7)),
        manifold_kpa=float(rng.uniform(28, 48)),
        rpm=float(rng.uniform(620, 1000)),
        friction_kpa=float(rng.uniform(120, 190)),
        # crank and flywheel with clutch or converter: 0.15 for 1.2 L, 0.35 for 4 L
        inertia_kg_m2=(0.06 + 0.075 * litres * cylinders) * float(rng.uniform(0.8, 1.25)),
        driveline_share=float(rng.uniform(0.02, 0.15)),
        driveline_hz=float(rng.uniform(20, 60)),
        burn_late_deg=float(rng.uniform(8, 24)),
        burn_lasts_deg=float(rng.uniform(40, 65)),
        advance_deg=float(rng.uniform(2, 20)),
        teeth=teeth,
        gaps=gaps,
        spacing_deg=float(rng.uniform(0.005, 0.06)) * 60 / teeth,
        runout_deg=float(rng.uniform(0.0, 0.1)),
        tdc_deg=float(rng.uniform(0, 360)),
        rate_hz=float(rng.choice([50_000, 100_000, 200_000])),
        lasts_s=float(rng.uniform(6.0, 10.0)),
    )
    return replace(idle)
