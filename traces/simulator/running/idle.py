"""What is drawn of an idling engine, and what is true of it."""

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.compression import Array

Physics: TypeAlias = Literal["gas", "impulse"]
Course: TypeAlias = Literal["idle", "hunting", "snap", "coast"]
"""How the speed goes: even, up and down, a snap of the throttle, or switched off at the end."""


@dataclass(frozen=True, slots=True)
class Idle:
    """An idling engine and how it is recorded.

    Parameters
    ----------
    burn
        By cylinder number, how much it burns of what a sound one does, 1.0 for sound.
    missing
        By cylinder number, the share of its firings that do not burn at all.
    scatter
        Of the work from firing to firing, over its mean.
    cylinder_l, compression_ratio, rod_over_crank, manifold_kpa
        Of each cylinder.
    inertia_kg_m2
        Of crank and flywheel.
    driveline_share, driveline_hz
        Inertia behind the spring over that before it, and the two's natural frequency.
    burn_late_deg
        Crank angle after top dead centre at which half has burnt.
    advance_deg
        How far before top dead centre the sync event comes.
    teeth, gaps
        Places of the wheel and missing teeth of each gap.
    spacing_deg, runout_deg
        Standard deviation of a tooth's place; amplitude of a wheel out of centre.
    tdc_deg
        Crank angle of the first firing after the wheel's first tooth.
    """

    seed: int
    physics: Physics
    order: FiringOrder
    burn: dict[int, float] = field(default_factory=dict)
    missing: dict[int, float] = field(default_factory=dict)
    scatter: float = 0.06
    cylinder_l: float = 0.5
    compression_ratio: float = 10.5
    rod_over_crank: float = 3.3
    manifold_kpa: float = 35.0
    rpm: float = 800.0
    friction_kpa: float = 140.0
    inertia_kg_m2: float = 0.16
    driveline_share: float = 0.08
    driveline_hz: float = 30.0
    burn_late_deg: float = 14.0
    burn_lasts_deg: float = 50.0
    advance_deg: float = 10.0
    teeth: int = 60
    gaps: tuple[int, ...] = (2,)
    spacing_deg: float = 0.03
    runout_deg: float = 0.05
    tdc_deg: float = 80.0
    rate_hz: float = 100_000.0
    lasts_s: float = 8.0
    course: Course = "idle"

    def rng(self, stream: int) -> np.random.Generator:
        """Return the numbers of one part, which stay as they are when another draws more."""
        return np.random.default_rng([self.seed, 800 + stream])


@dataclass(frozen=True, slots=True, eq=False)
class IdleTruth:
    """What happened.

    Parameters
    ----------
    time_s, angle_deg
        When the crank stood where; 0 degrees is a firing of the first cylinder in the order.
    contribution
        By cylinder number, its mean work over that of the sound ones.
    """

    time_s: Array
    angle_deg: Array
    contribution: dict[int, float]


def works_drawn(idle: Idle, cycles: int) -> Array:
    """Return how much of a full firing each one gives, shape (cycles, cylinders).

    In firing sequence.
    """
    rng = idle.rng(1)
    count = len(idle.order)
    share = np.array([idle.burn.get(c, 1.0) for c in idle.order.sequence])
    missing = np.array([idle.missing.get(c, 0.0) for c in idle.order.sequence])
    burns = rng.random((cycles, count)) >= missing
    scattered = share * (1 + idle.scatter * rng.normal(size=(cycles, count)))
    return np.asarray(np.maximum(scattered, 0.0) * burns, dtype=np.float64)


def contributions(idle: Idle, works: Array) -> dict[int, float]:
    """Return each cylinder's mean work over that of the sound ones."""
    mean = works.mean(axis=0)
    sound = [
        work
        for cylinder, work in zip(idle.order.sequence, mean, strict=True)
        if idle.burn.get(cylinder, 1.0) > 0.9 and not idle.missing.get(cylinder, 0.0)
    ]
    level = float(np.mean(sound))
    return {c: float(w) / level for c, w in zip(idle.order.sequence, mean, strict=True)}
