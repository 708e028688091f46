"""What the drives of all families share: state, figures, and how it is written down."""

import numpy as np

from traces.core.compression import Array
from traces.simulator.loads import KeyAndSolenoid, Ripples, column
from traces.simulator.scenario import Scenario

ENGINE, STARTER = 0, 1


class SimulatedDrive:
    """State of B engines with their starters.

    `angle_rad`, `current_a` (starter motor), `cable_a` (with solenoid) and `battery_v` have
    shape (B,); `speed_rad_s`, at the crank, has shape (2, B), engine and starter. What moves
    them is each family's own.
    """

    def __init__(self, scenarios: list[Scenario]) -> None:
        starters = [s.starter for s in scenarios]
        batteries = [s.battery for s in scenarios]
        self._ripples = Ripples(scenarios)
        self._key = KeyAndSolenoid(scenarios)
        self._k = column([s.torque_nm_per_a for s in starters])
        self._knee = column([s.knee_a for s in starters])
        self._motor_r = column([s.resistance_ohm for s in starters])
        self._l = column([s.inductance_h for s in starters])
        self._emf = column([b.emf_v for b in batteries])
        self._battery_r = column([b.resistance_ohm for b in batteries])
        self._collapse_at = column([b.collapse_at_s for b in batteries])
        self._collapse_rate = column([b.collapse_ohm_per_s for b in batteries])
        size = len(scenarios)
        self.angle_rad = np.deg2rad(column([s.start_deg for s in scenarios]))
        self.speed_rad_s = np.zeros((2, size))
        self.current_a = np.zeros(size)
        self.cable_a = np.zeros(size)
        self.battery_v = self._emf.copy()
        self._gain = np.zeros((2, size))

    def mid_angle_rad(self, step_s: float) -> Array:
        """Return the crank angle half a step ahead."""
        ahead: Array = self.angle_rad + self.speed_rad_s[ENGINE] * (step_s / 2)
        return ahead

    def write(self, row: Array) -> None:
        """Put angle, both speeds, motor and cable current and voltage in `row`, (6, B)."""
        row[0] = self.angle_rad
        row[1:3] = self.speed_rad_s
        row[3] = self.current_a
        row[4] = self.cable_a
        row[5] = self.battery_v
