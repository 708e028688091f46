"""Starter, clutch, crank, flywheel and battery of family c.

A motor whose field comes from magnets, from a series winding or from both, with windings that
warm; gears with play and a one-way clutch that creeps; a crank with a second mass on a spring
where the engine has one; friction that follows the rings' speed; a battery with two time
constants whose EMF sags with the charge drawn.
"""

import numpy as np

from traces.core.compression import Array
from traces.simulator.drive import ENGINE, STARTER, SimulatedDrive
from traces.simulator.loads import STICTION_RAD_S, column
from traces.simulator.scenario import Scenario

_COPPER_PER_K, _FERRITE_PER_K = 3.9e-3, -2.0e-3
_REMANENCE = 0.06
"""Field of a series winding's iron without current, over the saturated one."""

_ARMATURE_REACTION = 0.05
"""What the current that a series motor is half saturated at takes off the magnets' field."""

_FILM_AT_RAD_S, _FILM_POWER = 25.0, 0.7
_BREAKAWAY_RAD_S = 4.0
_STROKE_SHARE = 0.25
_SLOWER, _SLOWER_SHARE = 8.0, 0.6
"""The battery's slower time constant over the other one, and its resistance likewise."""


def field_over_constant(current_over_knee: Array, wound_share: Array) -> Array:
    """Return a cold motor's torque per ampere over its constant, by current over knee.

    Parameters
    ----------
    current_over_knee
        Current over the one at which a series field is half of the saturated one.
    wound_share
        Share of the field that the winding makes.
    """
    over = np.maximum(current_over_knee, 0.0)
    wound = _REMANENCE + (1 - _REMANENCE) * (2 / np.pi) * np.arctan(over)
    magnets = 1 - _ARMATURE_REACTION * over / (1 + 0.2 * over)
    field: Array = wound_share * wound + (1 - wound_share) * magnets
    return field


class CompoundDrive(SimulatedDrive):
    """Two speeds with play and a creeping clutch between them; see `SimulatedDrive`."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        super().__init__(scenarios)
        starters = [s.starter for s in scenarios]
        batteries = [s.battery for s in scenarios]
        engines = [s.engine for s in scenarios]
        size = len(scenarios)
        self._dry = column([e.friction.dry_nm + e.accessory_nm for e in engines])
        self._breakaway = column([e.friction.breakaway_nm for e in engines])
        self._film = column([e.friction.viscous_nms for e in engines])
        self._ring = column([e.friction.ring_share for e in engines])
        # pistons pass the middle of their strokes twice a turn, some engines' all at once
        together = [
            np.exp(-2j * np.deg2rad([angle for _, angle in e.firing_order])).mean() for e in engines
        ]
        self._strokes = np.array(together, dtype=np.complex128)
        self._set_flywheel(scenarios)
        self._starter_j = column([s.inertia_kg_m2 for s in starters])
        self._drag = np.stack(
            [column([s.drag_nm for s in starters]), column([s.drag_nms for s in starters])]
        )
        self._stiffness = column([s.clutch_nm_per_rad for s in starters])
        self._damping = column([s.clutch_nms for s in starters])
        self._lash = np.deg2rad(column([s.lash_deg for s in starters]))
        self._creep = column([s.slip_rad_s_per_nm for s in starters])
        self._wound = column([s.wound_share for s in starters])
        self._brush_v = column([s.brush_drop_v for s in starters])
        self._heating = column([s.heating_k_per_j for s in starters])
        self._sag = column([b.sag_v_per_as for b in batteries])
        slow_r = column([b.polarisation_ohm for b in batteries])
        slow_s = column([b.polarisation_s for b in batteries])
        self._slow_r = np.stack([slow_r, _SLOWER_SHARE * slow_r])
        self._slow_s = np.stack([slow_s, _SLOWER * slow_s])
        self._second_rad_s, self._twist_rad = np.zeros(size), np.zeros(size)
        self._wound_up_rad = np.zeros(size)
        self._warm_k, self._drawn_as = np.zeros(size), np.zeros(size)
        self._slow_v = np.zeros((2, size))

    def _set_flywheel(self, scenarios: list[Scenario]) -> None:
        """Split the inertia where the engine has a second mass on a spring."""
        whole = column([s.engine.inertia_kg_m2 for s in scenarios])
        halves = [s.engine.two_mass for s in scenarios]
        share = column([h.share if h else 0.0 for h in halves])
        self._crank_j = whole * (1 - share)
        self._second_j = np.where(share > 0, whole * share, 1.0)
        pairs = list(zip(halves, whole.tolist(), strict=True))
        self._spring = column([h.spring_nm_per_rad(j) if h else 0.0 for h, j in pairs])
        self._damper = column([h.damper_nms_per_rad(j) if h else 0.0 for h, j in pairs])

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
        rubbed = self._friction_nm(middle[ENGINE], rubbing_nm, mid_angle_rad)
        engine_nm = gas_nm - turning[ENGINE] * rubbed - self._ripples.torque_nm(mid_angle_rad)
        engine_nm = engine_nm - self._flywheel_nm(middle[ENGINE], step_s)
        rubbed = self._drag[0] * turning[STARTER] + self._drag[1] * middle[STARTER]
        starter_nm = field * current - rubbed
        crank = before[ENGINE] + engine_nm * step_s / self._crank_j
        starter = before[STARTER] + starter_nm * step_s / self._starter_j
        clutch_nm = self._clutch_nm(starter - crank, step_s)
        crank = crank + clutch_nm * step_s / self._crank_j
        starter = starter - clutch_nm * step_s / self._starter_j
        # behind the play the gears bear on each other; running ahead, the engine opens it again
        wound = self._wound_up_rad + step_s * (starter - crank - self._creep * clutch_nm)
        self._wound_up_rad = np.maximum(wound, 0)
        self.speed_rad_s = np.stack([crank, starter])
        self._gain = self.speed_rad_s - before
        self.angle_rad = self.angle_rad + step_s * (before[ENGINE] + 0.5 * self._gain[ENGINE])

    def _flywheel_nm(self, crank_rad_s: Array, step_s: float) -> Array:
        """Move the second mass and return the torque that its spring takes from the crank."""
        slip = crank_rad_s - self._second_rad_s
        twist = self._twist_rad + 0.5 * step_s * slip
        # implicit in the second mass's own speed, so that no stiffness is too much
        stiff = 0.5 * step_s * self._spring + self._damper
        torque = (self._spring * twist + self._damper * slip) / (
            1 + 0.5 * stiff * step_s / self._second_j
        )
        self._second_rad_s = self._second_rad_s + torque * step_s / self._second_j
        self._twist_rad = self._twist_rad + step_s * (
            crank_rad_s - self._second_rad_s + 0.5 * torque * step_s / self._second_j
        )
        return torque

    def _clutch_nm(self, slip_rad_s: Array, step_s: float) -> Array:
        """Return what the clutch carries at the step's end: nothing within the gears' play."""
        push = self._stiffness * step_s + self._damping
        yields = step_s * (1 / self._crank_j + 1 / self._starter_j)
        creep = self._stiffness * step_s * self._creep
        beyond = self._wound_up_rad - self._lash
        torque = (self._stiffness * beyond + push * slip_rad_s) / (1 + push * yields + creep)
        bears = beyond + step_s * slip_rad_s > 0
        carried: Array = np.maximum(torque, 0) * bears
        return carried

    def _friction_nm(self, speed_rad_s: Array, rubbing_nm: Array, angle_rad: Array) -> Array:
        """Return the size of the engine's friction, shape (B,)."""
        size = np.abs(speed_rad_s)
        over = size * (1 / _FILM_AT_RAD_S)
        film = self._film * _FILM_AT_RAD_S * over**_FILM_POWER
        mid_stroke = 1 - _STROKE_SHARE * np.real(self._strokes * np.exp(2j * angle_rad))
        boundary = self._breakaway / (1 + (size * (1 / _BREAKAWAY_RAD_S)) ** 2)
        friction: Array = self._dry * mid_stroke + boundary + film + self._ring * rubbing_nm
        return friction

    def _field(self) -> Array:
        """Return torque per ampere, which is back-EMF per speed too."""
        cold = field_over_constant(self.current_a / self._knee, self._wound)
        weaker = 1 + (1 - self._wound) * _FERRITE_PER_K * self._warm_k
        field: Array = self._k * cold * weaker
        return field

    def _drive_current(self, back_v: Array, time_s: float, step_s: float) -> Array:
        """Move the circuit by `step_s` and return the motor's current in the middle of it."""
        held = self._key.held(time_s)
        solenoid = self._key.solenoid_a(time_s, held)
        failing_s = np.maximum(time_s - self._collapse_at, 0)
        battery_r = self._battery_r + self._collapse_rate * failing_s
        motor_r = self._motor_r * (1 + _COPPER_PER_K * self._warm_k)
        emf = self._emf - self._sag * self._drawn_as - self._slow_v[0] - self._slow_v[1]
        before = self.current_a
        total_r = battery_r + motor_r
        driving_v = emf - battery_r * solenoid - back_v - self._brush_v
        # trapezium rule
        half = 0.5 * step_s / self._l
        after = (before * (1 - half * total_r) + 2 * half * driving_v) / (1 + half * total_r)
        self.current_a = np.maximum(after, 0) * held
        self.cable_a = self.current_a + solenoid
        middle: Array = 0.5 * (before * held + self.current_a)
        self._warm_k = self._warm_k + step_s * self._heating * motor_r * middle * middle
        self._drawn_as = self._drawn_as + step_s * self.cable_a
        self._slow_v = self._slow_v + (self._slow_r * self.cable_a - self._slow_v) * (
            step_s / self._slow_s
        )
        self.battery_v = emf - battery_r * self.cable_a
        return middle
