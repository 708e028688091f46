"""Gas of family b: heat to the walls, ring gaps as laminar slots, a throttled plenum.

The first law for an open cylinder, d(ln K)/dt = g (m'_in / m) (T_in / T - 1)
+ (g - 1) Q' / (p V) with K = p V^g / m^g. Heat transfer grows with p^0.8 T^-0.53 as in
Woschni's correlation (Heywood, ch. 12, from memory). The intake manifold is a plenum that
fills through the throttle and is emptied by the cylinders.
"""

import numpy as np

from traces.core.compression import Array, travel
from traces.simulator.loads import column
from traces.simulator.openings import Openings, through_gasket
from traces.simulator.orifice import AIR_J_KGK, flow_factor, slot_conductance
from traces.simulator.packing import PackedEngines
from traces.simulator.scenario import Scenario

GAMMA = 1.385
"""Mean of air over the 330 to 800 K of a compression without heat loss."""

_PRESSURE_POWER, _TEMPERATURE_POWER = 0.8, -0.53
_LEAST_PLENUM_PA = 1.0e4


class WallHeatGas:
    """Cylinders of several engines on a plenum each; same interface as `PolytropicGas`."""

    def __init__(self, engines: PackedEngines, scenarios: list[Scenario], angle_rad: Array) -> None:
        self._e = engines
        gases = [s.engine.gas for s in scenarios]
        self._ambient_pa = column([g.ambient_kpa * 1e3 for g in gases])[:, None]
        self._ambient_k = column([g.ambient_k for g in gases])[:, None]
        self._wall_rt = AIR_J_KGK * column([g.wall_k for g in gases])[:, None]
        self._heat = column([g.wall_w_m2k for g in gases])[:, None]
        self._slot_share = column([g.laminar_share for g in gases])[:, None]
        self._slot_per_m2 = float(slot_conductance(1.0)) * AIR_J_KGK
        self._throttle_m2 = column([g.throttle_mm2 * 1e-6 for g in gases])[:, None]
        self._plenum_m3 = column([g.plenum_l * 1e-3 for g in gases])[:, None]
        self._plenum_rt = AIR_J_KGK * self._ambient_k
        self._throttle_rate = self._throttle_m2 * self._ambient_pa / np.sqrt(self._plenum_rt)
        self._log_mass_factor = np.log(engines.mass_factor)
        self._plenum_pa = self._ambient_pa.copy()
        shape = engines.shape
        self._port_log_pa = np.empty((2, *shape))
        self._port_log_pa[:] = np.log(self._ambient_pa)
        self._port_rt = np.stack([self._plenum_rt, self._wall_rt])
        self._port_root = np.sqrt(self._port_rt)
        self._area = np.empty((2, *shape))
        self._piston_m2 = engines.piston_m2 * engines.present
        self._head_m2 = 2 * engines.piston_m2 + np.pi * engines.bore_m * (
            engines.clearance_m3 / engines.piston_m2
        )
        self._log_heat_at = _PRESSURE_POWER * np.log(self._ambient_pa)
        self._log_heat_at = self._log_heat_at + _TEMPERATURE_POWER * np.log(self._plenum_rt)
        phase = angle_rad[:, None] - engines.tdc_rad
        self._openings = Openings(engines, phase)
        x, _ = travel(phase, engines.crank_m, engines.rod_m)
        log_v = np.log(engines.clearance_m3 + engines.piston_m2 * x)
        log_p = np.broadcast_to(np.log(self._ambient_pa), shape)
        self._log_m = log_p + log_v - np.log(self._wall_rt)
        self._log_k = log_p - GAMMA * (self._log_m - log_v)
        self.pressure_pa = np.array(np.broadcast_to(self._ambient_pa, shape))

    @property
    def mass_kg(self) -> Array:
        """Air in each cylinder, (B, C)."""
        mass: Array = np.exp(self._log_m)
        return mass

    @property
    def plenum_pa(self) -> Array:
        """Absolute pressure of each plenum, (B, 1)."""
        return self._plenum_pa

    def step(self, angle_rad: Array, time_s: float, step_s: float) -> tuple[Array, Array]:
        """Move the gas by `step_s`; return gas torque and the gas force's torque, both (B,).

        The second is the sum of sizes, which loads the rings; newton metres.
        """
        e = self._e
        phase = angle_rad[:, None] - e.tdc_rad
        x, slope = travel(phase, e.crank_m, e.rod_m)
        log_v = np.log(e.clearance_m3 + e.piston_m2 * x)
        burned = self._openings.burned(phase, time_s)
        if burned is not None:
            self._log_k += burned
        log_p = self._log_k + GAMMA * (self._log_m - log_v)
        log_rt = log_p + log_v - self._log_m
        rt = np.exp(log_rt)
        change = self._exchange(phase, time_s, log_p, log_rt, step_s)
        mixed = np.maximum(change, 0) * (self._port_rt / rt - 1)
        flow = change[0] + change[1]
        mixing = GAMMA * (mixed[0] + mixed[1]) + self._wall(x, log_p, log_v, rt, step_s)
        if e.gasket is not None:
            state = log_p, log_rt, self._log_m
            extra = through_gasket(e.gasket, state, np.full((1, 1), GAMMA), GAMMA, step_s)
            flow += extra[0]
            mixing += extra[1]
        self._fill_plenum(change[0], step_s)
        self._log_m += flow
        self._log_k += mixing
        self.pressure_pa = np.exp(log_p + 0.5 * (GAMMA * flow + mixing))
        nm = (self.pressure_pa - self._ambient_pa) * self._piston_m2 * slope
        torque: Array = np.add.reduce(nm, axis=1)
        sizes: Array = np.add.reduce(np.abs(nm), axis=1)
        return torque, sizes

    def _exchange(
        self, phase: Array, time_s: float, log_p: Array, log_rt: Array, step_s: float
    ) -> Array:
        """Return the change of log mass through each opening over one step, (2, B, C)."""
        self._area[0], exhaust, leak = self._openings.areas_m2(phase, time_s)
        slot = leak * self._slot_share
        self._area[1] = exhaust + (leak - slot)
        self._port_log_pa[0] = np.log(self._plenum_pa) + self._log_mass_factor
        drop = self._port_log_pa - log_p
        size = np.abs(drop)
        inward = drop > 0
        per_mass = step_s * np.exp(-self._log_m)
        upstream = np.exp(np.where(inward, self._port_log_pa, log_p))
        root = np.where(inward, self._port_root, np.exp(0.5 * log_rt))
        change = self._area * flow_factor(-size, GAMMA) * upstream / root
        squares = np.abs(np.exp(2 * log_p) - self._ambient_pa**2)
        change[1] += slot * self._slot_per_m2 * squares * np.exp(-log_rt)
        most = size / GAMMA
        levelled: Array = np.copysign(np.minimum(change * per_mass, most), drop)
        return levelled

    def _wall(self, x: Array, log_p: Array, log_v: Array, rt: Array, step_s: float) -> Array:
        """Return what heat from the walls adds to log K in one step, (B, C)."""
        power = _PRESSURE_POWER * log_p + _TEMPERATURE_POWER * np.log(rt) - self._log_heat_at
        wall_m2 = self._head_m2 + np.pi * self._e.bore_m * x
        heat_w = self._heat * wall_m2 * (self._wall_rt - rt) * (1 / AIR_J_KGK)
        gained: Array = (GAMMA - 1) * step_s * heat_w * np.exp(power - log_p - log_v)
        return gained

    def _fill_plenum(self, change: Array, step_s: float) -> None:
        """Move the plenum's air by what the throttle lets in and the cylinders take."""
        drawn = np.exp(self._log_m) * change * self._e.present
        ratio = np.minimum(np.log(self._plenum_pa / self._ambient_pa), 0)
        entering = step_s * self._throttle_rate * flow_factor(ratio, GAMMA)
        per_kg = self._plenum_rt / self._plenum_m3
        entering = np.minimum(entering, np.maximum(self._ambient_pa - self._plenum_pa, 0) / per_kg)
        drawn_kg = np.add.reduce(drawn, axis=1, keepdims=True)
        self._plenum_pa = np.maximum(
            self._plenum_pa + (entering - drawn_kg) * per_kg, _LEAST_PLENUM_PA
        )
