"""Gas of family c: gas exchange through both valves, a ring labyrinth, heat to the walls.

Each cylinder has mass and temperature, with air's ratio of heats falling as it warms. Between
its rings lie two volumes: gas passes three gaps in a row on its way to the crankcase, and some
of it comes back. All openings follow the sonic-conductance law of ISO 6358 (an ellipse of the
pressure ratio); pressures that a step levels are solved for its end, so that wide valves need no
small steps. Heat transfer grows with the root of p T, as in Eichelberg's formula (from memory).
"""

import numpy as np

from traces.core.compression import Array, travel
from traces.simulator.breathing import CYCLE_RAD, breathing_of
from traces.simulator.packing import PackedEngines
from traces.simulator.scenario import Scenario

R_J_KGK = 287.05
_CHOKED = 0.6847
"""Flow of air per area, pressure and 1 / sqrt(R T) once it is choked."""

_CRITICAL = 0.5283
_LINEAR_FROM = 0.9995
"""Pressure ratio from which an opening's flow is taken as proportional to the difference."""

_GAMMA_300K, _GAMMA_PER_K = 1.404, -9.0e-5
"""Air's ratio of specific heats from 300 to 800 K, a line through tabled values."""

_THREE_GAPS = 3**0.5
"""Three like gaps in a row pass about what one of an area smaller by this passes."""

_RING_VOLUME_SHARE, _UNDER_RING_SHARE = 0.008, 0.012
"""Volumes over the second and over the third ring as shares of the clearance volume."""

_LEAST_PRESSURE_PA = 500.0
_BURNED_OVER_UNBURNED = 3.2
_EICHELBERG_M_S = 0.6


class ValveGas:
    """Cylinders of B engines, C of the largest; same interface as `PolytropicGas`."""

    def __init__(self, engines: PackedEngines, scenarios: list[Scenario], angle_rad: Array) -> None:
        self._e = engines
        gases = [s.engine.gas for s in scenarios]
        self._ambient_pa = _each([g.ambient_kpa * 1e3 for g in gases])
        self._ambient_k = _each([g.ambient_k for g in gases])
        self._wall_k = _each([g.wall_k for g in gases])
        self._throttle_m2 = _each([g.throttle_mm2 * 1e-6 for g in gases])
        self._plenum_m3 = _each([g.plenum_l * 1e-3 for g in gases])
        film = _each([g.wall_w_m2k for g in gases])
        self._film = film / np.sqrt(self._ambient_pa * self._ambient_k)
        self._breathing = breathing_of(scenarios, engines.shape[1])
        self._piston_m2 = engines.piston_m2 * engines.present
        self._ring_m3 = np.stack(
            [_RING_VOLUME_SHARE * engines.clearance_m3, _UNDER_RING_SHARE * engines.clearance_m3]
        )
        self._angle_rad = angle_rad.copy()
        phase = angle_rad[:, None] - engines.tdc_rad
        self._cycle = np.floor(phase / CYCLE_RAD)
        shape = engines.shape
        self._volume_m3 = self._volume(travel(phase, engines.crank_m, engines.rod_m)[0])
        self.pressure_pa = np.array(np.broadcast_to(self._ambient_pa, shape))
        self._kelvin = np.array(np.broadcast_to(self._wall_k, shape))
        self._kg = self.pressure_pa * self._volume_m3 / (R_J_KGK * self._kelvin)
        self._ring_pa = np.stack([self.pressure_pa, self.pressure_pa])
        self._plenum_pa = self._ambient_pa.copy()

    @property
    def mass_kg(self) -> Array:
        """Air in each cylinder and between its rings, (B, C)."""
        between = self._ring_pa * self._ring_m3 / (R_J_KGK * self._wall_k)
        mass: Array = self._kg + between[0] + between[1]
        return mass

    @property
    def plenum_pa(self) -> Array:
        """Absolute pressure of each plenum, (B, 1)."""
        return self._plenum_pa

    def step(self, angle_rad: Array, time_s: float, step_s: float) -> tuple[Array, Array]:
        """Move the gas to the crank angle in the middle of the step, exchanging for `step_s`.

        Returns
        -------
        tuple of Array
            Torque of the gas on the crank, and the sum of its sizes, which loads the rings; both
            newton metres, shape (B,).
        """
        e = self._e
        phase = angle_rad[:, None] - e.tdc_rad
        x, slope = travel(phase, e.crank_m, e.rod_m)
        speed_rad_s = np.abs(angle_rad - self._angle_rad)[:, None] / step_s
        self._angle_rad = angle_rad.copy()
        self._squeeze(x)
        self._burn(phase, time_s)
        before_pa = self._pressure()
        intake, exhaust, ring = self._breathing.areas_m2(phase, time_s)
        if e.weights is not None:
            held = (phase % CYCLE_RAD > CYCLE_RAD - np.pi) & (
                phase % CYCLE_RAD < CYCLE_RAD + e.weights.closes_rad
            )
            exhaust = exhaust + e.weights.area_m2 * (held & (speed_rad_s < e.weights.below_rad_s))
        self._exchange(before_pa, (intake, exhaust, ring * _THREE_GAPS), step_s)
        self._through_gasket(step_s)
        self._cool(x, speed_rad_s, step_s)
        after_pa = self._pressure()
        self.pressure_pa = 0.5 * (before_pa + after_pa)
        nm = (self.pressure_pa - self._ambient_pa) * self._piston_m2 * slope
        torque: Array = np.add.reduce(nm, axis=1)
        sizes: Array = np.add.reduce(np.abs(nm), axis=1)
        return torque, sizes

    def _volume(self, x_m: Array) -> Array:
        volume: Array = self._e.clearance_m3 + self._e.piston_m2 * x_m
        return volume

    def _pressure(self) -> Array:
        pressure: Array = self._kg * (R_J_KGK * self._kelvin) / self._volume_m3
        return pressure

    def _squeeze(self, x_m: Array) -> None:
        """Change the volume without heat, at the ratio of heats in the middle of the change."""
        volume = self._volume(x_m)
        squeezed = np.log(self._volume_m3 / volume)
        half = self._kelvin * (1 + 0.5 * (_gamma(self._kelvin) - 1) * squeezed)
        self._kelvin = self._kelvin * np.exp((_gamma(half) - 1) * squeezed)
        self._volume_m3 = volume

    def _burn(self, phase: Array, time_s: float) -> None:
        cycle = np.floor(phase / CYCLE_RAD)
        fires = (cycle > self._cycle) & (time_s > self._e.catches_s) & (self._e.present > 0)
        self._cycle = cycle
        self._kelvin = np.where(fires, self._kelvin * _BURNED_OVER_UNBURNED, self._kelvin)

    def _exchange(self, pa: Array, areas: tuple[Array, Array, Array], step_s: float) -> None:
        """Pass air through valves, seats and rings; pressures are those of the step's end."""
        gamma = _gamma(self._kelvin)
        port_pa = self._plenum_pa * self._e.mass_factor
        intake_k = np.where(pa > port_pa, self._kelvin, self._ambient_k)
        exhaust_k = np.where(pa > self._ambient_pa, self._kelvin, self._wall_k)
        ring_k = np.where(pa > self._ring_pa[0], self._kelvin, self._wall_k)
        ring = areas[2]
        up = np.stack([pa, pa, pa, self._ring_pa[0], self._ring_pa[1]])
        outside = np.broadcast_to(self._ambient_pa, pa.shape)
        down = np.stack([port_pa, outside, self._ring_pa[0], self._ring_pa[1], outside])
        wall_k = np.broadcast_to(self._wall_k, pa.shape)
        kelvin = np.stack([intake_k, exhaust_k, ring_k, wall_k, wall_k])
        gi, ge, g1, g2, g3 = conductance(np.stack([*areas, ring, ring]), up, down, kelvin)
        # pressure that a kilogram makes, in the cylinder and between the rings
        c = step_s * gamma * R_J_KGK / self._volume_m3
        r1, r2 = step_s * R_J_KGK * self._wall_k / self._ring_m3
        # p2 = u2 + w2 p1 and p1 = u1 + w1 p, from the crankcase upwards
        d2 = 1 + r2 * (g2 + g3)
        u2, w2 = (self._ring_pa[1] + r2 * g3 * self._ambient_pa) / d2, r2 * g2 / d2
        d1 = 1 + r1 * (g1 + g2 * (1 - w2))
        u1, w1 = (self._ring_pa[0] + r1 * g2 * u2) / d1, r1 * g1 / d1
        hi, he, hr = c * gi * intake_k, c * ge * exhaust_k, c * g1 * ring_k
        now = pa + hi * port_pa + he * self._ambient_pa + hr * u1
        now = now / (1 + hi + he + hr * (1 - w1))
        p1 = u1 + w1 * now
        p2 = u2 + w2 * p1
        entering = step_s * gi * (port_pa - now)
        others = step_s * ge * (self._ambient_pa - now), step_s * g1 * (p1 - now)
        carried = entering * intake_k + others[0] * exhaust_k + others[1] * ring_k
        self._add(entering + others[0] + others[1], gamma * carried)
        self._ring_pa = np.stack([p1, p2])
        self._fill_plenum(entering, step_s)

    def _add(self, kg: Array, carried_kg_k: Array) -> None:
        """Let air in or out; `carried_kg_k` is its enthalpy over the cylinder's heat capacity."""
        # nothing takes more than nine tenths of what is there in one step
        kg_after = np.maximum(self._kg + kg, 0.1 * self._kg)
        heat = self._kg * self._kelvin + carried_kg_k
        self._kelvin = np.maximum(heat / kg_after, 0.5 * self._kelvin)
        self._kg = kg_after

    def _fill_plenum(self, entering_kg: Array, step_s: float) -> None:
        drawn = np.add.reduce(entering_kg * self._e.present, axis=1, keepdims=True)
        per_kg = R_J_KGK * self._ambient_k / self._plenum_m3
        g = conductance(self._throttle_m2, self._plenum_pa, self._ambient_pa, self._ambient_k)
        a = step_s * per_kg * g
        filled = (self._plenum_pa - per_kg * drawn + a * self._ambient_pa) / (1 + a)
        self._plenum_pa = np.maximum(filled, _LEAST_PRESSURE_PA)

    def _through_gasket(self, step_s: float) -> None:
        gasket = self._e.gasket
        if gasket is None:
            return
        pa, kelvin, kg = self._pressure().ravel(), self._kelvin.ravel(), self._kg.ravel()
        volume = self._volume_m3.ravel()
        one, two = gasket.first, gasket.second
        source = np.where(pa[one] > pa[two], one, two)
        sink = np.where(pa[one] > pa[two], two, one)
        g = conductance(gasket.area_m2, pa[one], pa[two], kelvin[source])
        # both ends at the step's end
        stiff = step_s * g * R_J_KGK * 1.4 * kelvin[source] * (1 / volume[one] + 1 / volume[two])
        moved = step_s * g * (pa[source] - pa[sink]) / (1 + stiff)
        moved = np.minimum(moved, 0.5 * kg[source])
        flow, carried = np.zeros(pa.size), np.zeros(pa.size)
        np.add.at(flow, source, -moved)
        np.add.at(flow, sink, moved)
        np.add.at(carried, source, -moved * kelvin[source])
        np.add.at(carried, sink, moved * kelvin[source])
        shape = self._kg.shape
        self._add(flow.reshape(shape), _gamma(self._kelvin) * carried.reshape(shape))

    def _cool(self, x_m: Array, speed_rad_s: Array, step_s: float) -> None:
        """Let heat pass between gas and walls."""
        e = self._e
        wall_m2 = 2 * e.piston_m2 + np.pi * e.bore_m * (x_m + e.clearance_m3 / e.piston_m2)
        piston_m_s = speed_rad_s * e.crank_m * (2 / np.pi)
        film = self._film * np.sqrt(self._pressure() * self._kelvin)
        film = film * np.cbrt(np.maximum(piston_m_s, 0.05) / _EICHELBERG_M_S)
        capacity = self._kg * R_J_KGK / (_gamma(self._kelvin) - 1)
        left = np.exp(-step_s * film * wall_m2 / capacity)
        self._kelvin = self._wall_k + (self._kelvin - self._wall_k) * left


def conductance(area_m2: Array, one_pa: Array, other_pa: Array, upstream_k: Array) -> Array:
    """Return mass flow per pressure difference through an opening, kg/(s Pa).

    m' = 0.685 A p_up / sqrt(R T_up), times sqrt(1 - ((r - b) / (1 - b))^2) above the critical
    ratio b of the pressures r (ISO 6358-1; proportional to the difference close to r = 1).
    """
    up, down = np.maximum(one_pa, other_pa), np.minimum(one_pa, other_pa)
    ratio = np.minimum(down / up, _LINEAR_FROM)
    over = np.maximum(ratio - _CRITICAL, 0) * (1 / (1 - _CRITICAL))
    rate = _CHOKED * area_m2 * np.sqrt((1 - over * over) / (R_J_KGK * upstream_k))
    flow: Array = rate / (1 - ratio)
    return flow


def _gamma(kelvin: Array) -> Array:
    gamma: Array = (_GAMMA_300K - 300.0 * _GAMMA_PER_K) + _GAMMA_PER_K * np.minimum(kelvin, 1500.0)
    return gamma


def _each(values: list[float]) -> Array:
    return np.array(values, dtype=np.float64)[:, None]
