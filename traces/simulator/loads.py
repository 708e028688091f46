"""What turns with the crank or hangs on the battery in either family."""

import numpy as np

from traces.core.compression import Array
from traces.simulator.engine import PumpLobes
from traces.simulator.scenario import Scenario

STICTION_RAD_S = 0.4
"""Below this speed dry friction fades: it holds the engine, it does not turn it back."""

_SOLENOID_PULL_S = 0.03
_PULL_OVER_HOLD = 3.0


def column(values: list[float]) -> Array:
    """Return one number per engine as an array, shape (B,)."""
    return np.array(values, dtype=np.float64)


class Ripples:
    """Repeating loads of B engines; see `TorqueRipple` and `PumpLobes`."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        engines = [s.engine for s in scenarios]
        most = max(len(e.ripples) for e in engines)
        self._order, self._size, self._phase = (np.zeros((len(engines), most)) for _ in range(3))
        for b, engine in enumerate(engines):
            for r, ripple in enumerate(engine.ripples):
                self._order[b, r] = ripple.order / 2
                self._size[b, r] = ripple.amplitude_nm
                self._phase[b, r] = np.deg2rad(ripple.phase_deg)
        self._any = most > 0
        pumps = [e.pump or PumpLobes(0, 0.0) for e in engines]
        self._lobes = column([p.lobes / 2 for p in pumps])
        self._begins = np.deg2rad(column([p.phase_deg for p in pumps]))
        self._push = column([p.peak_nm for p in pumps])
        self._returned = column([p.returned for p in pumps])
        self._pumps = any(e.pump for e in engines)

    def torque_nm(self, angle_rad: Array) -> Array | float:
        """Return the torque against the crank, shape (B,)."""
        pumped = self._pumped_nm(angle_rad) if self._pumps else 0.0
        if not self._any:
            return pumped
        waves = self._size * np.cos(self._order * angle_rad[:, None] + self._phase)
        torque: Array = np.add.reduce(waves, axis=1)
        return torque + pumped

    def _pumped_nm(self, angle_rad: Array) -> Array:
        stroke = np.sin(self._lobes * (angle_rad - self._begins))
        torque: Array = self._push * np.where(stroke > 0, stroke, self._returned * stroke)
        return torque


class SecondInertia:
    """What hangs behind the spring of a two-mass flywheel, for B engines; see `TwoMass`.

    Engines without one have nothing behind the spring: all of their inertia is the crank's.
    """

    def __init__(self, scenarios: list[Scenario]) -> None:
        engines = [s.engine for s in scenarios]
        parts = [(e.inertia_kg_m2, e.two_mass) for e in engines]
        self.any = any(part is not None for _, part in parts)
        self.crank_kg_m2 = column([j * (1 - part.share) if part else j for j, part in parts])
        self._spring = column([part.spring_nm_per_rad(j) if part else 0.0 for j, part in parts])
        self._damper = column([part.damper_nms_per_rad(j) if part else 0.0 for j, part in parts])
        self._per_inertia = column([1 / (j * part.share) if part else 0.0 for j, part in parts])
        self._speed_rad_s, self._gain, self._twist_rad = np.zeros((3, len(engines)))

    def torque_nm(self, before_rad_s: Array, middle_rad_s: Array, step_s: float) -> Array:
        """Move by a step and return the torque against the crank in its middle, shape (B,).

        Parameters
        ----------
        before_rad_s, middle_rad_s
            Speed of the crank at the start of the step and in its middle.
        """
        own_rad_s = self._speed_rad_s + 0.5 * self._gain
        twist_rad = self._twist_rad + 0.5 * step_s * (before_rad_s - self._speed_rad_s)
        torque: Array = self._spring * twist_rad + self._damper * (middle_rad_s - own_rad_s)
        self._gain = step_s * torque * self._per_inertia
        self._twist_rad = self._twist_rad + step_s * (
            middle_rad_s - self._speed_rad_s - 0.5 * self._gain
        )
        self._speed_rad_s = self._speed_rad_s + self._gain
        return torque


class KeyAndSolenoid:
    """When the key is held, and what the solenoid draws then."""

    def __init__(self, scenarios: list[Scenario]) -> None:
        self._crank_s = column([s.crank_s for s in scenarios])
        self._hold_a = column([s.starter.hold_a for s in scenarios])
        self._shortest_s = float(self._crank_s.min())
        self._all = np.ones(len(scenarios))

    def held(self, time_s: float) -> Array:
        """Return 1 for engines whose key is held at `time_s`, else 0, shape (B,)."""
        if time_s < self._shortest_s:
            return self._all
        return (time_s < self._crank_s).astype(np.float64)

    def solenoid_a(self, time_s: float, held: Array) -> Array:
        """Return the solenoid's current: more while it pulls in, shape (B,)."""
        pull = _PULL_OVER_HOLD if time_s < _SOLENOID_PULL_S else 1.0
        amps: Array = self._hold_a * held * pull
        return amps
