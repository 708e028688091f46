"""Starter, clutch, crank and battery of family b.

A motor whose field saturates and weakens under armature reaction, brushes with a fixed drop, a
one-way clutch that winds up like a spring, friction by a Stribeck curve with rings pressed by
the gas, and a battery that polarises.
"""

import numpy as np

from traces.core.compression import Array
from traces.simulator.drive import ENGINE, STARTER, SimulatedDrive
from traces.simulator.loads import STICTION_RAD_S, SecondInertia, column
from traces.simulator.scenario import Scenario

_STRIBECK_RAD_S = 6.0
_FILM_AT_RAD_S = 25.0
_WINDAGE_AT_RAD_S = 20.0
_SHUNT_SHARE = 0.12
"""Field of a series motor that does not come from its current: remanence and a shunt coil."""


class CompliantDrive(SimulatedDrive):
    """Starter and engine wound up against each other; see `SimulatedDrive`."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        super().__init__(scenarios)
        starters = [s.starter for s in scenarios]
        batteries = [s.battery for s in scenarios]
        engines = [s.engine for s in scenarios]
        self._second = SecondInertia(scenarios)
        self._dry = column([e.friction.dry_nm + e.accessory_nm for e in engines])
        self._breakaway = column([e.friction.breakaway_nm for e in engines])
        self._film = column([e.friction.viscous_nms for e in engines])
        self._ring = column([e.friction.ring_share for e in engines])
        self._engine_j = self._second.crank_kg_m2
        self._starter_j = column([s.inertia_kg_m2 for s in starters])
        self._stiffness = column([s.clutch_nm_per_rad for s in starters])
        self._damping = column([s.clutch_nms for s in starters])
        self._is_series = np.array([s.kind == "series" for s in starters])
        self._brush_v = column([s.brush_drop_v for s in starters])
        self._drag = column([s.drag_nm for s in starters])
        self._windage = column([s.drag_nms for s in starters])
        self._slow_r = column([b.polarisation_ohm for b in batteries])
        self._slow_s = column([b.polarisation_s for b in batteries])
        size = len(scenarios)
        self._wound_rad = np.zeros(size)
        self._slow_v = np.zeros(size)

    def step(
        self,
        gas_nm: Array,
        rubbing_nm: Array,
        mid_angle_rad: Array,
        time_s: float,
        step_s: float,
    ) -> None:
        """Move by `step_s`; `time_s` is the middle of the step, from the key's turn."""
        before = self.speed_rad_s
        middle = before + 0.5 * self._gain
        field = self._field()
        current = self._drive_current(field * middle[STARTER], time_s, step_s)
        turning = np.tanh(middle * (1 / STICTION_RAD_S))
        against = turning[ENGINE] * self._friction_nm(middle[ENGINE], rubbing_nm)
        engine_nm = gas_nm - against - self._ripples.torque_nm(mid_angle_rad)
        if self._second.any:
            engine_nm = engine_nm - self._second.torque_nm(before[ENGINE], middle[ENGINE], step_s)
        speed = middle[STARTER]
        windage = self._windage * speed * np.abs(speed) * (1 / _WINDAGE_AT_RAD_S)
        starter_nm = field * current - self._drag * turning[STARTER] - windage
        free = before.copy()
        free[ENGINE] += engine_nm * step_s / self._engine_j
        free[STARTER] += starter_nm * step_s / self._starter_j
        clutch_nm = self._clutch_nm(free[STARTER] - free[ENGINE], step_s)
        free[ENGINE] += clutch_nm * step_s / self._engine_j
        free[STARTER] -= clutch_nm * step_s / self._starter_j
        # the rollers let go once the spring is unwound
        wound = self._wound_rad + step_s * (free[STARTER] - free[ENGINE])
        self._wound_rad = np.maximum(wound, 0)
        self._gain = free - before
        self.speed_rad_s = free
        self.angle_rad = self.angle_rad + step_s * (before[ENGINE] + 0.5 * self._gain[ENGINE])

    def _friction_nm(self, speed_rad_s: Array, rubbing_nm: Array) -> Array:
        """Return the size of the engine's friction, shape (B,)."""
        size = np.abs(speed_rad_s)
        mixed = self._breakaway * np.exp(-((size * (1 / _STRIBECK_RAD_S)) ** 2))
        film = self._film * np.sqrt(_FILM_AT_RAD_S * size)
        friction: Array = self._dry + mixed + film + self._ring * rubbing_nm
        return friction

    def _clutch_nm(self, slip_rad_s: Array, step_s: float) -> Array:
        """Return the clutch's torque, solved for the end of the step so that it is stable."""
        push = self._stiffness * step_s + self._damping
        yielding = step_s * (1 / self._engine_j + 1 / self._starter_j)
        torque = (self._stiffness * self._wound_rad + push * slip_rad_s) / (1 + push * yielding)
        carried: Array = np.maximum(torque, 0)
        return carried

    def _field(self) -> Array:
        """Return torque per ampere, which is back-EMF per speed too."""
        over = self.current_a / self._knee
        series = _SHUNT_SHARE + (1 - _SHUNT_SHARE) * np.tanh(over)
        field: Array = self._k * np.where(self._is_series, series, 1 / (1 + over))
        return field

    def _drive_current(self, back_v: Array, time_s: float, step_s: float) -> Array:
        """Move the circuit by `step_s` and return the motor's current in the middle of it."""
        held = self._key.held(time_s)
        solenoid = self._key.solenoid_a(time_s, held)
        failing_s = np.maximum(time_s - self._collapse_at, 0)
        battery_r = self._battery_r + self._collapse_rate * failing_s
        total_r = battery_r + self._motor_r
        emf = self._emf - self._slow_v
        before = self.current_a
        driving_v = emf - battery_r * solenoid - back_v
        settled = (driving_v - self._brush_v) / total_r
        fade = np.exp(-step_s / self._l * total_r)
        self.current_a = np.maximum((settled + (before - settled) * fade) * held, 0)
        self.cable_a = self.current_a + solenoid
        slow = self._slow_r * self.cable_a - self._slow_v
        self._slow_v = self._slow_v + slow * (step_s / self._slow_s)
        self.battery_v = emf - battery_r * self.cable_a
        middle: Array = 0.5 * (before * held + self.current_a)
        return middle
