"""Gas of family a: one polytropic exponent stands for all heat loss.

Each cylinder has two states, the logarithms of its mass m and of the constant K = p V^n / m^n.
A closed, tight cylinder keeps both, so compression carries no integration error. Gas leaving
does not change K; gas entering mixes in with its own temperature. Valves and leaks are
nozzles; the manifold's pressure is given.
"""

import numpy as np

from traces.core.compression import Array, travel
from traces.simulator.loads import column
from traces.simulator.openings import Openings, through_gasket
from traces.simulator.orifice import AIR_J_KGK, flow_factor
from traces.simulator.packing import PackedEngines
from traces.simulator.scenario import Scenario

GAMMA = 1.4


class PolytropicGas:
    """Cylinders of several engines.

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
        self._n = column([g.exponent for g in gases])[:, None]
        self._ambient_pa = column([g.ambient_kpa * 1e3 for g in gases])[:, None]
        port_k = column([g.ambient_k for g in gases])[:, None]
        wall_k = column([g.wall_k for g in gases])[:, None]
        intake_pa = column([g.manifold_kpa * 1e3 for g in gases])[:, None] * engines.mass_factor
        outside_pa = np.broadcast_to(self._ambient_pa, engines.shape)
        # axis 0: the intake port, and everything that leads outside
        self._port_log_pa = np.log(np.stack([intake_pa, outside_pa]))
        self._port_rt = AIR_J_KGK * np.stack([port_k, wall_k])
        self._port_rate = np.exp(self._port_log_pa) / np.sqrt(self._port_rt)
        self._area = np.empty((2, *engines.shape))
        self._piston_m2 = engines.piston_m2 * engines.present
        self._rubbing_nm = np.zeros(len(scenarios))
        phase = angle_rad[:, None] - engines.tdc_rad
        self._openings = Openings(engines, phase)
        x, _ = travel(phase, engines.crank_m, engines.rod_m)
        log_v = np.log(engines.clearance_m3 + engines.piston_m2 * x)
        log_p = np.log(outside_pa)
        self._log_m = log_p + log_v - np.log(AIR_J_KGK * wall_k)
        self._log_k = log_p - self._n * (self._log_m - log_v)
        self.pressure_pa = np.array(outside_pa)

    @property
    def mass_kg(self) -> Array:
        """Air in each cylinder, (B, C)."""
        mass: Array = np.exp(self._log_m)
        return mass

    def step(self, angle_rad: Array, time_s: float, step_s: float) -> tuple[Array, Array]:
        """Move the gas by `step_s` around the crank angle in the middle of the step.

        Returns
        -------
        tuple of Array
            Torque of the gas on the crank in its sense of rotation, newton metres, shape (B,);
            and the rubbing that gas force causes: none in this family.
        """
        e = self._e
        phase = angle_rad[:, None] - e.tdc_rad
        x, slope = travel(phase, e.crank_m, e.rod_m)
        log_v = np.log(e.clearance_m3 + e.piston_m2 * x)
        burned = self._openings.burned(phase, time_s)
        if burned is not None:
            self._log_k += burned
        log_p = self._log_k + self._n * (self._log_m - log_v)
        log_rt = log_p + log_v - self._log_m
        self._area[0], exhaust, leak = self._openings.areas_m2(phase, time_s)
        np.add(exhaust, leak, out=self._area[1])
        change = self._exchange(log_p, log_v, step_s)
        mixed = np.maximum(change, 0) * (self._port_rt * np.exp(-log_rt) - 1)
        flow = change[0] + change[1]
        mixing = self._n * (mixed[0] + mixed[1])
        if e.gasket is not None:
            state = log_p, log_rt, self._log_m
            extra = through_gasket(e.gasket, state, self._n, GAMMA, step_s)
            flow += extra[0]
            mixing += extra[1]
        self._log_m += flow
        self._log_k += mixing
        # half of the change belongs to the middle of the step, where the torque is taken
        self.pressure_pa = np.exp(log_p + 0.5 * (self._n * flow + mixing))
        force = (self.pressure_pa - self._ambient_pa) * self._piston_m2
        torque: Array = np.add.reduce(force * slope, axis=1)
        return torque, self._rubbing_nm

    def _exchange(self, log_p: Array, log_v: Array, step_s: float) -> Array:
        """Return the change of log mass through each opening over one step, (2, B, C)."""
        drop = self._port_log_pa - log_p
        size = np.abs(drop)
        leaving = np.exp(0.5 * (log_p - log_v - self._log_m))
        entering = self._port_rate * np.exp(-self._log_m)
        rate = np.where(drop > 0, entering, leaving)
        change = step_s * self._area * flow_factor(-size, GAMMA) * rate
        # a wide valve levels the pressures within the step and no further
        levelled: Array = np.copysign(np.minimum(change, size / self._n), drop)
        return levelled
