"""Starter, clutch, crank and battery of family a.

A motor with constant or saturating field, a rigid one-way clutch, dry and viscous friction, and
a battery of EMF and resistance whose EMF sags with the charge drawn.
"""

import numpy as np

from traces.core.compression import Array
from traces.simulator.drive import ENGINE, STARTER, SimulatedDrive
from traces.simulator.loads import STICTION_RAD_S, SecondInertia, column
from traces.simulator.scenario import Scenario


class RigidDrive(SimulatedDrive):
    """Starter and engine at one speed as long as the clutch carries; see `SimulatedDrive`."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        super().__init__(scenarios)
        starters = [s.starter for s in scenarios]
        batteries = [s.battery for s in scenarios]
        engines = [s.engine for s in scenarios]
        self._second = SecondInertia(scenarios)
        dry = column([e.friction.dry_nm + e.accessory_nm for e in engines])
        self._dry_nm = np.stack([dry, column([s.drag_nm for s in starters])])
        self._viscous = np.stack(
            [
                column([e.friction.viscous_nms for e in engines]),
                column([s.drag_nms for s in starters]),
            ]
        )
        inertia = np.stack(
            [
                self._second.crank_kg_m2,
                column([s.inertia_kg_m2 for s in starters]),
            ]
        )
        self._per_inertia = 1 / inertia
        self._inertia_share = inertia / inertia.sum(axis=0)
        self._series = column([float(s.kind == "series") for s in starters])
        self._sag = column([b.sag_v_per_as for b in batteries])
        self._first_collapse_s = float(self._collapse_at.min())
        self._cached = 0.0, self._battery_r, np.ones(0)
        size = len(scenarios)
        self._drawn_as = np.zeros(size)

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
        # speeds in the middle of the step, carried on from the step before
        middle = before + 0.5 * self._gain
        field = self._field()
        current = self._drive_current(field * middle[STARTER], time_s, step_s)
        torque = self._dry_nm * np.tanh(middle * (1 / STICTION_RAD_S)) + self._viscous * middle
        np.negative(torque, out=torque)
        torque[ENGINE] += gas_nm - rubbing_nm - self._ripples.torque_nm(mid_angle_rad)
        if self._second.any:
            torque[ENGINE] -= self._second.torque_nm(before[ENGINE], middle[ENGINE], step_s)
        torque[STARTER] += field * current
        free = before + torque * self._per_inertia * step_s
        # the clutch carries torque one way only: it makes speeds equal where the starter
        # would otherwise be the faster one
        shared = free * self._inertia_share
        engaged = free[STARTER] > free[ENGINE]
        self.speed_rad_s = np.where(engaged, shared[ENGINE] + shared[STARTER], free)
        self._gain = self.speed_rad_s - before
        self.angle_rad = self.angle_rad + step_s * (before[ENGINE] + 0.5 * self._gain[ENGINE])

    def _field(self) -> Array:
        """Return torque per ampere, which is back-EMF per speed too."""
        share = self.current_a / (self.current_a + self._knee)
        field: Array = self._k * (1 + self._series * (share - 1))
        return field

    def _drive_current(self, back_v: Array, time_s: float, step_s: float) -> Array:
        """Move the circuit by `step_s` and return the motor's current in the middle of it."""
        held = self._key.held(time_s)
        solenoid = self._key.solenoid_a(time_s, held)
        battery_r, fade = self._resistance(time_s, step_s)
        emf = self._emf - self._sag * self._drawn_as
        before = self.current_a
        settled = (emf - battery_r * solenoid - back_v) / (battery_r + self._motor_r)
        current = (settled + (before - settled) * fade) * held
        self.current_a = np.maximum(current, 0)
        self.cable_a = self.current_a + solenoid
        self._drawn_as = self._drawn_as + step_s * self.cable_a
        self.battery_v = emf - battery_r * self.cable_a
        middle: Array = 0.5 * (before * held + self.current_a)
        return middle

    def _resistance(self, time_s: float, step_s: float) -> tuple[Array, Array]:
        """Return the battery's resistance and what a step leaves of a current's deviation."""
        cached_step_s, battery_r, fade = self._cached
        if time_s < self._first_collapse_s and cached_step_s == step_s:
            return battery_r, fade
        failing_s = np.maximum(time_s - self._collapse_at, 0)
        battery_r = self._battery_r + self._collapse_rate * failing_s
        fade = np.exp(-step_s * (battery_r + self._motor_r) / self._l)
        self._cached = step_s, battery_r, fade
        return battery_r, fade
