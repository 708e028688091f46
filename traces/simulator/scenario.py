"""One capture to simulate: engine, electrics, instrument, flaws, and how it is recorded."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal, TypeAlias

from traces.core.setup import AnalysisSetup, Banks, SyncEvent, SyncSetup
from traces.simulator.electrics import BatteryModel, StarterModel
from traces.simulator.engine import EngineModel
from traces.simulator.recorder import Clamp, Flaws, PickUp

Family: TypeAlias = Literal["a", "b", "c"]
"""Which physics a capture is made with; see `gas_a` and `drive_a`, `gas_b` and so on."""

CLAMP_CHANNEL = "clamp"
BATTERY_CHANNEL = "battery"

_SYNC_CHANNELS: Mapping[SyncEvent, str] = MappingProxyType(
    {"ignition": "coil", "injector": "injector", "cam": "cam"}
)
"""What the sync's pick-up is clipped to."""

_LONG_ENOUGH_S = 3.0


@dataclass(frozen=True, slots=True)
class Scenario:
    """Everything that makes one capture; the same scenario gives the same samples.

    Parameters
    ----------
    rate_hz
        Sample rate of the recording.
    before_s, crank_s, after_s
        Recording before the key, with the key held, and after its release. A negative
        `before_s` starts the recording in mid-crank.
    start_deg
        Crank angle at rest, after the firing top dead centre of the first in the order.
    banks
        Cylinder numbers of each bank; empty where there is one bank, or none was told.
    """

    engine: EngineModel
    starter: StarterModel = field(default_factory=StarterModel)
    battery: BatteryModel = field(default_factory=BatteryModel)
    clamp: Clamp = field(default_factory=Clamp)
    sync: PickUp | None = field(default_factory=PickUp)
    flaws: Flaws = field(default_factory=Flaws)
    family: Family = "a"
    rate_hz: float = 20_000.0
    before_s: float = 0.4
    crank_s: float = 4.2
    after_s: float = 0.4
    start_deg: float = 100.0
    record_battery: bool = False
    layout: str = ""
    fault: str = "none"
    hard: str = ""
    seed: int = 0
    banks: Banks = ()

    def __post_init__(self) -> None:
        if not self.rate_hz > 0 or not self.crank_s > 0 or self.after_s < 0:
            raise ValueError("rate and crank must be positive, the time after it not negative")
        if not -self.crank_s < self.before_s:
            raise ValueError("a recording must not start after the crank has ended")
        if self.sync and self.sync.cylinder not in self.engine.firing_order.sequence:
            raise ValueError("the sync cylinder is not in the engine")

    @property
    def duration_s(self) -> float:
        """Length of the recording."""
        return self.before_s + self.crank_s + self.after_s

    @property
    def sync_channel(self) -> str:
        """Name of the sync's channel: what its pick-up is on."""
        return _SYNC_CHANNELS[self.sync.event if self.sync else "ignition"]

    def setup(self) -> AnalysisSetup:
        """Return what the person at the tablet enters for this capture, errors included."""
        order = self.flaws.entered_order or self.engine.firing_order
        sync = None
        if self.sync:
            sync = SyncSetup(
                channel=self.sync_channel,
                cylinder=min(self.sync.cylinder, len(order)),
                event=self.sync.event,
                every_deg=self.sync.entered_every_deg or self.sync.every_deg,
                angle_deg=self.sync.entered_angle_deg,
            )
        return AnalysisSetup(
            firing_order=order,
            current_channel=CLAMP_CHANNEL,
            mv_per_a=self.flaws.entered_mv_per_a or self.clamp.mv_per_a,
            sync=sync,
            fuel=self.engine.fuel,
            banks=self.banks or None if order == self.engine.firing_order else None,
        )

    def cranked_on(self) -> "Scenario":
        """Return the same engine cranked long enough to see every cylinder at work.

        A crank cut short, an engine that catches or a battery that fails shows the compression
        of some cylinders never, from a half-filled start, or at a crawl.
        """
        return replace(
            self,
            crank_s=max(self.crank_s, _LONG_ENOUGH_S),
            flaws=replace(self.flaws, catches_after_s=math.inf),
            battery=replace(self.battery, collapse_at_s=math.inf),
        )
