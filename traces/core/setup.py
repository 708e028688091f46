"""What a person says about a capture before it is analysed."""

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from engines.core.firing import FiringOrder

Fuel: TypeAlias = Literal["petrol", "diesel"]
SyncEvent: TypeAlias = Literal["ignition", "injector", "cam"]
SyncEvery: TypeAlias = Literal[360, 720]


class SetupError(ValueError):
    """The set-up contradicts itself; the text is one sentence with what to do."""


@dataclass(frozen=True, slots=True)
class SyncSetup:
    """Which channel marks which cylinder, and how often in crank degrees."""

    channel: str
    cylinder: int
    event: SyncEvent = "ignition"
    every_deg: SyncEvery = 720


@dataclass(frozen=True, slots=True)
class AnalysisSetup:
    """Everything the analysis needs besides the samples.

    Parameters
    ----------
    firing_order
        The engine's firing sequence and angles.
    current_channel
        Name, or number from 1, of the clamp's channel.
    mv_per_a
        Clamp scale: 10 mV/A makes 1 V = 100 A.
    invert
        True or False when a person said so; None lets the sign follow from the data.
    sync
        None when no sync was recorded.
    full_scale_v
        Volts at full scale, for files whose samples run from -1 to 1 (WAV).
    rate_hz
        Sample rate for files that do not carry one; the file's own rate wins.
    suspect_below, watch_below
        Limits of relative compression for the calls.

    Raises
    ------
    SetupError
        If the scale or a limit makes no sense or the sync cylinder is not in the engine.
    """

    firing_order: FiringOrder
    current_channel: str
    mv_per_a: float
    sync: SyncSetup | None = None
    invert: bool | None = None
    fuel: Fuel = "petrol"
    full_scale_v: float | None = None
    rate_hz: float | None = None
    suspect_below: float = 0.80
    watch_below: float = 0.88

    def __post_init__(self) -> None:
        if not 0.01 <= self.mv_per_a <= 10_000:
            raise SetupError(
                "The clamp's scale must lie between 0.01 and 10000 mV/A; "
                "read it off the clamp's switch."
            )
        if self.full_scale_v is not None and not 0 < self.full_scale_v <= 10_000:
            raise SetupError("Full scale must be a positive number of volts, at most 10000.")
        if self.rate_hz is not None and not 0 < self.rate_hz <= 1e9:
            raise SetupError("The sample rate must be a positive number of hertz.")
        if not 0 < self.suspect_below <= self.watch_below <= 1:
            raise SetupError("The limits must rise: 0 < suspect <= watch <= 1.")
        if self.sync and self.sync.cylinder not in self.firing_order.sequence:
            raise SetupError(
                f"Sync cylinder {self.sync.cylinder} is not in the firing order "
                f"{self.firing_order}; choose one of its cylinders."
            )
        if self.sync and self.sync.channel.strip() == self.current_channel.strip():
            raise SetupError("Clamp and sync cannot be the same channel; choose another for one.")

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values; `from_json` reads them back."""
        return {
            "firing_order": str(self.firing_order),
            "tdc_angles": list(self.firing_order.tdc_angles_deg),
            "current_channel": self.current_channel,
            "mv_per_a": self.mv_per_a,
            "invert": self.invert,
            "sync": self.sync
            and {
                "channel": self.sync.channel,
                "cylinder": self.sync.cylinder,
                "event": self.sync.event,
                "every_deg": self.sync.every_deg,
            },
            "fuel": self.fuel,
            "full_scale_v": self.full_scale_v,
            "rate_hz": self.rate_hz,
            "suspect_below": self.suspect_below,
            "watch_below": self.watch_below,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> "AnalysisSetup":
        """Read what `to_json` wrote."""
        sync = data["sync"]
        return cls(
            firing_order=FiringOrder.parse(data["firing_order"], data["tdc_angles"]),
            current_channel=data["current_channel"],
            mv_per_a=data["mv_per_a"],
            sync=SyncSetup(**sync) if sync else None,
            invert=data["invert"],
            fuel=data["fuel"],
            full_scale_v=data["full_scale_v"],
            rate_hz=data["rate_hz"],
            suspect_below=data["suspect_below"],
            watch_below=data["watch_below"],
        )
