"""Starter, clutch, crank and battery of family a.

Linear or saturating motor, rigid one-way clutch, dry and viscous friction, a battery of EMF
and resistance whose EMF sags with the charge drawn.
"""

import numpy as np

from traces.core.simulator.engine import Scenario
from traces.core.slider_crank import Array

_STICTION_RAD_S = 0.4
"""Below this speed dry friction fades: it holds the engine, it does not turn it back."""

_SOLENOID_PULL_S = 0.03


def column(values: list[float]) -> Array:
    """Return one number per engine as an array, shape (B,)."""
    return np.array(values, dtype=np.float64)


class RigidDrive:
    """State of B engines with their starters.

    `angle_rad`, `engine_rad_s`, `starter_rad_s` (all at the crank), `current_a` (starter motor)
    and `battery_v` have shape (B,).
    """

    def __init__(self, scenarios: list[Scenario]) -> None:
        starters = [s.starter for s in scenarios]
        batteries = [s.battery for s in scenarios]
        engines = [s.engine for s in scenarios]
        self._loads = EngineLoads(scenarios)
        self._dry = column([e.friction.dry_nm for e in engines])
        self._viscous = column([e.friction.viscous_nms for e in engines])
        self._engine_j = column([e.inertia_kg_m2 for e in engines])
        self._starter_j = column([s.inertia_kg_m2 for s in starters])
        self._k = column([s.torque_nm_per_a for s in starters])
        self._knee = column([s.knee_a for s in starters])
        self._series = column([float(s.kind == "series") for s in starters])
        self._motor_r = column([s.resistance_ohm for s in starters])
        self._l = column([s.inductance_h for s in starters])
        self._drag = column([s.drag_nm for s in starters])
        self._drag_rate = column([s.drag_nms for s in starters])
        self._hold = column([s.hold_a for s in starters])
        self._emf = column([b.emf_v for b in batteries])
        self._battery_r = column([b.resistance_ohm for b in batteries])
        self._sag = column([b.sag_v_per_as for b in batteries])
        self._collapse_at = column([b.collapse_at_s for b in batteries])
        self._collapse_rate = column([b.collapse_ohm_per_s for b in batteries])
        self._crank_s = column([s.crank_s for s in scenarios])
        size = len(scenarios)
        self.angle_rad = np.deg2rad(column([s.start_deg for s in scenarios]))
        self.engine_rad_s = np.zeros(size)
        self.starter_rad_s = np.zeros(size)
        self.current_a = np.zeros(size)
        self.battery_v = self._emf.copy()
        self._drawn_as = np.zeros(size)

    def mid_angle_rad(self, step_s: float) -> Array:
        """Return the crank angle half a step ahead."""
        ahead: Array = self.angle_rad + self.engine_rad_s * (step_s / 2)
        return ahead

    def step(self, gas_nm: Array, mid_angle_rad: Array, time_s: float, step_s: float) -> None:
        """Move by `step_s`; `time_s` is the middle of the step, from the key's turn."""
        field = self._field()
        self._drive_current(field, time_s, step_s)
        speed = self.starter_rad_s
        motor_nm = field * self.current_a - self._drag_rate * speed
        motor_nm -= self._drag * np.tanh(speed / _STICTION_RAD_S)
        starter = speed + step_s / self._starter_j * motor_nm
        before = self.engine_rad_s
        load_nm = gas_nm - self._loads.torque_nm(mid_angle_rad, before)
        load_nm -= self._dry * np.tanh(before / _STICTION_RAD_S) + self._viscous * before
        engine = before + step_s / self._engine_j * load_nm
        # the clutch carries torque one way only: it makes speeds equal where the starter
        # would otherwise be the faster one
        both = self._engine_j * engine + self._starter_j * starter
        both /= self._engine_j + self._starter_j
        engaged = starter > engine
        self.starter_rad_s = np.where(engaged, both, starter)
        self.engine_rad_s = np.where(engaged, both, engine)
        self.angle_rad = self.angle_rad + (step_s / 2) * (before + self.engine_rad_s)

    def _field(self) -> Array:
        """Return torque per ampere, which is back-EMF per speed too."""
        share = self.current_a / (self.current_a + self._knee)
        field: Array = self._k * (1 + self._series * (share - 1))
        return field

    def _drive_current(self, field: Array, time_s: float, step_s: float) -> None:
        held = time_s < self._crank_s
        battery_r = self._battery_r + self._collapse_rate * np.maximum(
            time_s - self._collapse_at, 0
        )
        emf = self._emf - self._sag * self._drawn_as
        solenoid = self._hold * (3.0 if time_s < _SOLENOID_PULL_S else 1.0)
        total_r = battery_r + self._motor_r
        settled = (emf - battery_r * solenoid - field * self.starter_rad_s) / total_r
        fade = np.exp(-step_s * total_r / self._l)
        current = settled + (self.current_a - settled) * fade
        self.current_a = np.maximum(current, 0) * held
        cable = self.cable_a(time_s)
        self._drawn_as = self._drawn_as + step_s * cable
        self.battery_v = emf - battery_r * cable

    def write(self, row: Array, time_s: float) -> None:
        """Put angle, both speeds, motor and cable current and voltage in `row`, (6, B)."""
        row[0] = self.angle_rad
        row[1] = self.engine_rad_s
        row[2] = self.starter_rad_s
        row[3] = self.current_a
        row[4] = self.cable_a(time_s)
        row[5] = self.battery_v

    def cable_a(self, time_s: float) -> Array:
        """Return the current in the battery cable: motor and solenoid, shape (B,)."""
        pull = 3.0 if time_s < _SOLENOID_PULL_S else 1.0
        cable: Array = self.current_a + self._hold * pull * (time_s < self._crank_s)
        return cable


class EngineLoads:
    """Accessories and repeating loads of B engines."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        engines = [s.engine for s in scenarios]
        most = max((len(e.ripples) for e in engines), default=0)
        self._constant = column([e.accessory_nm for e in engines])
        self._order, self._size, self._phase = (np.zeros((len(engines), most)) for _ in range(3))
        for b, engine in enumerate(engines):
            for r, ripple in enumerate(engine.ripples):
                self._order[b, r] = ripple.order / 2
                self._size[b, r] = ripple.amplitude_nm
                self._phase[b, r] = np.deg2rad(ripple.phase_deg)

    def torque_nm(self, angle_rad: Array, speed_rad_s: Array) -> Array:
        """Return the torque against the crank, shape (B,)."""
        turning = np.tanh(speed_rad_s / _STICTION_RAD_S)
        waves = self._size * np.cos(self._order * angle_rad[:, None] + self._phase)
        torque: Array = self._constant * turning + waves.sum(axis=1)
        return torque
