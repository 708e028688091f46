"""Valves and leaks of family c: lift curves with their own seats, leaks by path and cycle.

Nothing here is shared with families a and b: a lobe is a rounded trapezium instead of a squared
sine, flow area is the curtain under the valve up to that of its throat, and an orifice belongs
to a valve's seat or to the rings.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.compression import Array
from traces.simulator.engine import Cylinder, ValveTiming
from traces.simulator.scenario import Scenario

CYCLE_RAD = 4 * np.pi
PER_DEG = 2
PLACES = 720 * PER_DEG
CYCLES = 96
"""Cycles for which leaks are drawn; a longer run keeps the last one."""

_MM2 = 1e-6
_STREAM = 11
_FULL_AT_LIFT = 0.6
"""Share of the lift at which the curtain has become as large as the throat."""

_FLANK = 0.42
"""Share of the open angle that each flank of a lobe takes."""

_CYCLE_SCATTER = 0.08


@dataclass(frozen=True, slots=True, eq=False)
class Breathing:
    """Openings of B engines of C cylinders, square metres.

    `intake` and `exhaust` are flat from (B, C, PLACES), from 360 degrees before firing top dead
    centre on; `intake_leak`, `exhaust_leak` and `ring` are flat from (B, C, CYCLES); `healing`
    adds to the three of them, shape (3, B, C), and fades at `healing_per_s`.
    """

    intake: Array
    exhaust: Array
    intake_leak: Array
    exhaust_leak: Array
    ring: Array
    healing: Array
    healing_per_s: Array
    place_base: NDArray[np.intp]
    cycle_base: NDArray[np.intp]

    def areas_m2(self, phase_rad: Array, time_s: float) -> tuple[Array, Array, Array]:
        """Return intake side, exhaust side and rings at a phase past firing TDC, each (B, C)."""
        turned = phase_rad * (1 / CYCLE_RAD) + 0.5
        cycle = np.floor(turned)
        place = self.place_base + ((turned - cycle) * PLACES).astype(np.intp)
        number = self.cycle_base + np.clip(cycle, 0, CYCLES - 1).astype(np.intp)
        heal = self.healing * np.exp(-time_s * self.healing_per_s)
        return (
            self.intake.take(place) + self.intake_leak.take(number) + heal[0],
            self.exhaust.take(place) + self.exhaust_leak.take(number) + heal[1],
            self.ring.take(number) + heal[2],
        )


def breathing_of(scenarios: Sequence[Scenario], most: int) -> Breathing:
    """Return the openings of engines side by side, filled up to `most` cylinders."""
    shape = (len(scenarios), most)
    valves = np.zeros((2, *shape, PLACES))
    leaks = np.zeros((3, *shape, CYCLES))
    healing, per_s = np.zeros((3, *shape)), np.zeros(shape)
    for b, scenario in enumerate(scenarios):
        rng = np.random.default_rng([scenario.seed, _STREAM])
        timing = scenario.engine.timing
        for c, number in enumerate(scenario.engine.firing_order.sequence):
            cylinder = scenario.engine.cylinders[number - 1]
            valves[0, b, c] = _intake_m2(timing, cylinder)
            valves[1, b, c] = _exhaust_m2(timing, cylinder)
            sound, fault = _leaks_m2(cylinder, rng)
            shares = _shares(cylinder)
            leaks[:, b, c] = shares[:, None] * fault
            leaks[2, b, c] += sound
            if np.isfinite(cylinder.fault_recovery_s):
                healing[:, b, c] = shares * cylinder.fault_leak_mm2 * _MM2
                per_s[b, c] = 1 / cylinder.fault_recovery_s
    cells = np.arange(shape[0] * shape[1]).reshape(shape)
    return Breathing(
        intake=valves[0].ravel(),
        exhaust=valves[1].ravel(),
        intake_leak=leaks[0].ravel(),
        exhaust_leak=leaks[1].ravel(),
        ring=leaks[2].ravel(),
        healing=healing,
        healing_per_s=per_s,
        place_base=cells * PLACES,
        cycle_base=cells * CYCLES,
    )


def lobe(angle_deg: Array, opens_deg: float, closes_deg: float) -> Array:
    """Return lift from 0 to 1 on a circle of 720 degrees: two smooth flanks and a dwell."""
    through = ((angle_deg - opens_deg) % 720) / (closes_deg - opens_deg)
    up = np.clip(np.minimum(through, 1 - through) / _FLANK, 0, 1)
    lift: Array = np.where(through < 1, up * up * (3 - 2 * up), 0.0)
    return lift


def _flow_area(lift: Array, throat_m2: float, most_lift: float) -> Array:
    """Return the valve's area: curtain as far as that goes; a worn lobe cuts the lift's top."""
    area: Array = throat_m2 * np.minimum(np.minimum(lift, most_lift) / _FULL_AT_LIFT, 1.0)
    return area


def _angles() -> Array:
    # 0 is the dead centre between exhaust and intake
    return (np.arange(PLACES) + 0.5) / PER_DEG


def _intake_m2(timing: ValveTiming, cylinder: Cylinder) -> Array:
    late = cylinder.late_closing_deg
    opens = -timing.intake_opens_btdc_deg + late
    lift = lobe(_angles(), opens, 180 + timing.intake_closes_abdc_deg + late)
    throat = timing.intake_area_mm2 * _MM2 * cylinder.intake_area_factor
    return _flow_area(lift, throat, cylinder.intake_lift)


def _exhaust_m2(timing: ValveTiming, cylinder: Cylinder) -> Array:
    angle = _angles()
    opens = 540 - timing.exhaust_opens_bbdc_deg + cylinder.late_exhaust_deg
    closes = 720 + timing.exhaust_closes_atdc_deg + cylinder.late_exhaust_deg
    lift = lobe(angle, opens, closes)
    area = _flow_area(lift, timing.exhaust_area_mm2 * _MM2, cylinder.exhaust_lift)
    if timing.decompression_mm2 and np.isinf(timing.decompression_below_rpm):
        held = (angle > 180) & (angle < 360 - timing.decompression_closes_btdc_deg)
        area = area + timing.decompression_mm2 * _MM2 * held
    return area


def _leaks_m2(cylinder: Cylinder, rng: np.random.Generator) -> tuple[Array, Array]:
    """Return the sound leak and the fault's by cycle, each (CYCLES,)."""
    scatter = np.exp(_CYCLE_SCATTER * rng.normal(size=CYCLES))
    is_open = rng.random(CYCLES) < cylinder.fault_share_of_cycles
    fault = cylinder.fault_leak_mm2 * _MM2 * np.sqrt(scatter) * is_open
    if np.isfinite(cylinder.fault_recovery_s):
        fault = np.zeros(CYCLES)
    return cylinder.leak_mm2 * _MM2 * scatter, fault


def _shares(cylinder: Cylinder) -> Array:
    seats = cylinder.intake_share, cylinder.exhaust_share
    return np.array([*seats, 1 - sum(seats)])
