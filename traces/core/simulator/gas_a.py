"""Gas of family a: one polytropic exponent stands for all heat loss.

Each cylinder has two states, the logarithms of its mass m and of the constant K = p V^n / m^n.
A closed, tight cylinder keeps both, so compression carries no integration error. Gas leaving
does not change K; gas entering mixes in with its own temperature.
"""

import numpy as np

from traces.core.simulator.engine import Scenario
from traces.core.simulator.orifice import AIR_J_KGK, flow_factor
from traces.core.simulator.packing import MOST_CYCLES, TABLE_SIZE, PackedEngines, PackedGaskets
from traces.core.slider_crank import Array, travel

GAMMA = 1.4
BURNED_OVER_UNBURNED = 3.2
"""Pressure ratio of a combustion at top dead centre, for an engine that catches."""

_CYCLE = 4 * np.pi


class PolytropicGas:
    """Cylinders of several engines with prescribed manifold pressure.

    Parameters
    ----------
    engines
        Shape (B, C).
    scenarios
        The same engines, for their gas model.
    angle_rad
        Crank angle at rest, shape (B,).
    """

    def __init__(self, engines: PackedEngines, scenarios: list[Scenario], angle_rad: Array) -> None:
        self._e = engines
        gases = [s.engine.gas for s in scenarios]

        def column(values: list[float]) -> Array:
            return np.array(values, dtype=np.float64)[:, None]

        self._n = column([g.exponent for g in gases])
        self._ambient_pa = column([g.ambient_kpa * 1e3 for g in gases])
        port_k = column([g.ambient_k for g in gases])
        wall_k = column([g.wall_k for g in gases])
        intake_pa = column([g.manifold_kpa * 1e3 for g in gases]) * engines.mass_factor
        outside_pa = np.broadcast_to(self._ambient_pa, engines.shape)
        # axis 0: the intake port, and everything that leads outside
        self._port_log_pa = np.log(np.stack([intake_pa, outside_pa]))
        self._port_k = np.stack([port_k, wall_k])
        self._port_rate = np.exp(self._port_log_pa) / np.sqrt(AIR_J_KGK * self._port_k)
        self._heals = bool(np.any(engines.healing_m2 > 0))
        self._catches = bool(np.any(np.isfinite(engines.catches_s)))
        self.pressure_pa = np.array(np.broadcast_to(self._ambient_pa, engines.shape))
        volume = self._volume(angle_rad)[0]
        self._log_m = np.log(self.pressure_pa * volume / (AIR_J_KGK * wall_k))
        self._log_k = np.log(self.pressure_pa) - self._n * (self._log_m - np.log(volume))
        self._cycle = np.floor(self._phase(angle_rad) / _CYCLE)

    def _phase(self, angle_rad: Array) -> Array:
        phase: Array = angle_rad[:, None] - self._e.tdc_rad
        return phase

    def _volume(self, angle_rad: Array) -> tuple[Array, Array]:
        e = self._e
        x, slope = travel(self._phase(angle_rad), e.crank_m, e.rod_m)
        return e.clearance_m3 + e.piston_m2 * x, e.piston_m2 * slope

    def step(self, angle_rad: Array, time_s: float, step_s: float) -> Array:
        """Move the gas by `step_s` around the crank angle in the middle of the step.

        Returns
        -------
        Array
            Torque of the gas on the crank in its sense of rotation, newton metres, shape (B,).
        """
        e = self._e
        phase = self._phase(angle_rad)
        x, slope = travel(phase, e.crank_m, e.rod_m)
        log_v = np.log(e.clearance_m3 + e.piston_m2 * x)
        if self._catches:
            self._burn(phase, time_s)
        log_p = self._log_k + self._n * (self._log_m - log_v)
        area = self._areas(phase, time_s)
        change = self._exchange(area, log_p, log_v, step_s)
        if e.gasket is not None:
            self._through_gasket(change, log_p, log_v, step_s)
        log_t = log_p + log_v - self._log_m
        warmth = (self._port_k * AIR_J_KGK) * np.exp(-log_t) - 1
        flow = change.sum(axis=0)
        mixing = self._n * (np.maximum(change, 0) * warmth).sum(axis=0)
        if e.gasket is not None:
            self._through_gasket(e.gasket, flow, mixing, log_p, log_t, step_s)
        self._log_m += flow
        self._log_k += mixing
        # half of the change belongs to the middle of the step, where the torque is taken
        self.pressure_pa = np.exp(log_p + 0.5 * (self._n * flow + mixing))
        force = (self.pressure_pa - self._ambient_pa) * e.present * e.piston_m2
        torque: Array = (force * slope).sum(axis=1)
        return torque

    def _areas(self, phase: Array, time_s: float) -> Array:
        """Return openings to the intake port and to outside, square metres, (2, B, C)."""
        e = self._e
        cycles = phase * (1 / _CYCLE) + 0.5
        whole = np.floor(cycles)
        at = ((cycles - whole) * TABLE_SIZE).astype(np.intp)
        at += e.valve_base
        leak_at = np.minimum(np.maximum(whole, 0), MOST_CYCLES - 1).astype(np.intp)
        leak_at += e.leak_base
        leak = e.leak_m2.take(leak_at)
        if self._heals:
            leak += e.healing_m2 * np.exp(-time_s * e.healing_per_s)
        return np.stack([e.intake_m2.take(at), e.exhaust_m2.take(at) + leak])

    def _exchange(self, area: Array, log_p: Array, log_v: Array, step_s: float) -> Array:
        """Return the change of log mass through each opening over one step, (2, B, C)."""
        drop = self._port_log_pa - log_p
        size = np.abs(drop)
        leaving = np.exp(0.5 * (log_p - log_v - self._log_m))
        entering = self._port_rate * np.exp(-self._log_m)
        rate = np.where(drop > 0, entering, leaving)
        change = step_s * area * flow_factor(-size, GAMMA) * rate
        # a wide valve levels the pressures within the step and no further
        return np.copysign(np.minimum(change, size / self._n), drop)

    def _through_gasket(
        self,
        gasket: PackedGaskets,
        flow: Array,
        mixing: Array,
        log_p: Array,
        log_t: Array,
        step_s: float,
    ) -> None:
        """Add what passes between neighbours to `flow` and `mixing`, in place."""
        p, t, m = log_p.ravel(), log_t.ravel(), np.exp(self._log_m).ravel()
        n = np.broadcast_to(self._n, log_p.shape).ravel()[gasket.first]
        drop = p[gasket.first] - p[gasket.second]
        forward = drop > 0
        source = np.where(forward, gasket.first, gasket.second)
        sink = np.where(forward, gasket.second, gasket.first)
        size = np.abs(drop)
        moved = step_s * gasket.area_m2 * flow_factor(-size, GAMMA)
        moved *= np.exp(p[source] - 0.5 * t[source])
        moved = np.minimum(moved, size / n * m[source] * m[sink] / (m[source] + m[sink]))
        np.subtract.at(flow.reshape(-1), source, moved / m[source])
        np.add.at(flow.reshape(-1), sink, moved / m[sink])
        warmth = np.exp(t[source] - t[sink]) - 1
        np.add.at(mixing.reshape(-1), sink, n * moved / m[sink] * warmth)

    def _burn(self, phase: Array, time_s: float) -> None:
        """Raise the entropy of cylinders that pass firing top dead centre after the catch."""
        cycle = np.floor(phase / _CYCLE)
        fires = (cycle > self._cycle) & (time_s > self._e.catches_s)
        self._cycle = cycle
        self._log_k += np.log(BURNED_OVER_UNBURNED) * fires
