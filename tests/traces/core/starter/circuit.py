"""A crank as a circuit with known figures: a source with resistance, a starter that draws.

Not a physical engine (that is the simulator): speed, current and resistance are set, and the
voltage follows by Ohm's law.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from engines.core.firing import FiringOrder
from traces.core.preparation.preparation import prepare
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.starter.measure import starter_figures
from traces.core.waveform.waveform import Channel, Waveform


@dataclass(frozen=True)
class Circuit:
    order: str = "1-3-4-2"
    rpm: float = 220.0
    rpm_per_s: float = 0.0
    rate_hz: float = 5000.0
    rest_s: float = 0.5
    crank_s: float = 5.0
    after_s: float = 0.6
    inrush_a: float = 620.0
    mean_a: float = 160.0
    ripple_a: float = 45.0
    emf_v: float = 12.6
    source_mohm: float = 6.0
    polarisation_mohm: float = 0.0
    polarisation_s: float = 0.5
    recovered_v: float = 0.0
    """How much less than before it stands after the crank."""
    noise_a: float = 0.8
    noise_v: float = 0.004
    mv_per_a: float = 10.0
    clip_a: float = np.inf
    units: tuple[str | None, ...] = field(default=("V", "V", "V"))
    seed: int = 3

    @property
    def time_s(self):
        return np.arange(round((self.rest_s + self.crank_s + self.after_s) * self.rate_hz)) / (
            self.rate_hz
        )

    @property
    def cranking(self):
        since_s = self.time_s - self.rest_s
        return (since_s >= 0) & (since_s < self.crank_s)

    @property
    def turned_deg(self):
        since_s = np.clip(self.time_s - self.rest_s, 0, self.crank_s)
        return 6.0 * (self.rpm * since_s + 0.5 * self.rpm_per_s * since_s**2) + 77.0

    def current_a(self):
        """Rise with 4 ms, fall with 60 ms, then a hump for each compression."""
        since_s = self.time_s - self.rest_s
        humps = np.zeros(self.time_s.size)
        for _, tdc_deg in FiringOrder.parse(self.order):
            width_deg = 720.0 / len(FiringOrder.parse(self.order)) / 2
            away_deg = (self.turned_deg - tdc_deg + 360.0) % 720.0 - 360.0
            # one whole wave around each top dead centre, without a mean
            near = np.abs(away_deg) < width_deg
            humps += np.where(near, np.cos(np.pi * away_deg / width_deg), 0.0)
        settled = 1 - np.exp(-np.maximum(since_s, 0) / 0.05)
        current = self.mean_a + self.ripple_a * humps * settled
        scale = 1.0 / self._top()
        inrush = (self.inrush_a - self.mean_a) * scale * self._shape(since_s)
        return np.where(self.cranking, current + inrush, 0.0)

    def _shape(self, since_s):
        since_s = np.maximum(since_s, 0)
        return np.exp(-since_s / 0.06) - np.exp(-since_s / 0.004)

    def _top(self):
        return float(self._shape(np.linspace(0, 0.1, 20_001)).max())

    def voltage_v(self):
        current = self.current_a()
        step_s = 1.0 / self.rate_hz
        keep = np.exp(-step_s / self.polarisation_s)
        slow = np.zeros(current.size)
        for i in range(1, current.size):
            slow[i] = keep * slow[i - 1] + (1 - keep) * current[i]
        drop_v = (self.source_mohm * current + self.polarisation_mohm * slow) / 1000.0
        after = self.time_s >= self.rest_s + self.crank_s
        return self.emf_v - drop_v - np.where(after, self.recovered_v, 0.0)

    def sync_v(self):
        passed = np.floor(self.turned_deg / 720.0)
        return np.where(np.diff(passed, prepend=passed[0]) > 0, 2.0, 0.0)

    def waveform(self, cut: slice = slice(None)):
        rng = np.random.default_rng(self.seed)
        seen = self.current_a()
        amps = np.minimum(seen + rng.normal(0, self.noise_a, seen.size), self.clip_a)
        volts = self.voltage_v() + rng.normal(0, self.noise_v, amps.size)
        sync = self.sync_v() + rng.normal(0, 0.01, amps.size)
        values = (amps * self.mv_per_a / 1000.0, sync, volts)
        return Waveform(
            0.0,
            self.rate_hz,
            tuple(
                Channel(name, unit, v[cut].astype(np.float32))
                for name, unit, v in zip(
                    ("clamp", "coil", "battery"), self.units, values, strict=True
                )
            ),
        )

    def setup(self, **changes) -> AnalysisSetup:
        values: dict[str, Any] = {
            "firing_order": FiringOrder.parse(self.order),
            "current_channel": "clamp",
            "mv_per_a": self.mv_per_a,
            "sync": SyncSetup("coil", 1, "ignition", 720),
            "voltage_channel": "battery",
            **changes,
        }
        return AnalysisSetup(**values)


def figures_of(circuit: Circuit, cut: slice = slice(None), **changes: Any) -> Any:
    """Return the figures of a circuit's capture; `Any`, for a None in them fails a test."""
    return starter_of(circuit.waveform(cut), circuit.setup(**changes))


def starter_of(waveform: Waveform, setup: AnalysisSetup) -> Any:
    found = starter_figures(prepare(waveform, setup))
    assert found is not None
    return found
