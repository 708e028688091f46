"""A cranking current written down directly: humps of known height at known angles.

Not a physical model (that is the simulator): what it knows exactly is when each hump and
each sync event comes, and how strong each compression is.
"""

from dataclasses import dataclass

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.setup.analysis_setup import AnalysisSetup, SyncEvery, SyncSetup
from traces.core.waveform.waveform import Channel, Waveform


@dataclass(frozen=True)
class Crank:
    """What is cranked, and how it is recorded."""

    order: str = "1-3-4-2"
    strengths: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0)
    """By cylinder number."""
    rpm: float = 210.0
    rate_hz: float = 2000.0
    duration_s: float = 4.0
    level_a: float = 160.0
    swing_a: float = 120.0
    noise_a: float = 0.5
    mv_per_a: float = 10.0
    sync_cylinder: int = 1
    sync_every: SyncEvery = 720
    leak: float = 0.0
    """Share of a pulse that shows at every other firing."""
    invert: bool = False

    @property
    def firing(self) -> FiringOrder:
        return FiringOrder.parse(self.order)

    def setup(self, **changes) -> AnalysisSetup:
        sync = SyncSetup("coil", self.sync_cylinder, "ignition", self.sync_every)
        values = {
            "firing_order": self.firing,
            "current_channel": "clamp",
            "mv_per_a": self.mv_per_a,
            "sync": sync,
            **changes,
        }
        return AnalysisSetup(**values)

    def waveform(self) -> Waveform:
        rng = np.random.default_rng(7)
        time_s = np.arange(round(self.duration_s * self.rate_hz)) / self.rate_hz
        turned_deg = 6.0 * self.rpm * time_s + 77.0
        current = np.full(time_s.size, self.level_a - 0.4 * self.swing_a)
        sync = rng.normal(0, 0.02, time_s.size)
        for cylinder, tdc_deg in self.firing:
            away = (turned_deg - tdc_deg + 360.0) % 720.0 - 360.0
            width_deg = min(0.2 * 720.0 / len(self.firing), 30.0)
            # a hump of load a little before top dead centre
            hump = np.exp(-0.5 * ((away + 12.0) / width_deg) ** 2)
            current += self.swing_a * self.strengths[cylinder - 1] * hump
            own = cylinder == self.sync_cylinder or (
                self.sync_every == 360 and cylinder == self.firing.companion_of(self.sync_cylinder)
            )
            share = 1.0 if own else self.leak
            fired = np.flatnonzero((away[:-1] < 0) & (away[1:] >= 0) & (np.diff(away) < 90))
            sync[fired] += 2.0 * share
        current += rng.normal(0, self.noise_a, time_s.size)
        volts = current * self.mv_per_a / 1000.0 * (-1 if self.invert else 1)
        return Waveform(
            0.0,
            self.rate_hz,
            (
                Channel("clamp", "V", volts.astype(np.float32)),
                Channel("coil", "V", sync.astype(np.float32)),
            ),
        )
