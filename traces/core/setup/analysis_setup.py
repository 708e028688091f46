"""What a person says about a capture before it is analysed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal, Self, TypeAlias, get_args

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.plain_json import PlainJson, fields_from, fields_json
from traces.core.setup.manual_edits import NO_EDITS, ManualEdits
from traces.core.setup.pressure_setup import PressureSetup
from traces.core.setup.setup_error import SetupError
from traces.core.setup.tooth_wheel import ToothWheel
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNALS, Signal, SignalKind, kind_of

__all__ = [
    "BANK_EVEN_WITHIN",
    "LEAST_BANK_LIMIT",
    "MOST_BANK_LIMIT",
    "MOST_BITS",
    "SAME_CHANNEL",
    "SAME_VOLTAGE_CHANNEL",
    "AnalysisSetup",
    "AngleFrom",
    "Banks",
    "CrankedBy",
    "EventToMeasure",
    "Flywheel",
    "Fuel",
    "SetupError",
    "SyncEvent",
    "SyncEvery",
    "SyncSetup",
    "ToothWheel",
    "banks_from",
]

Fuel: TypeAlias = Literal["petrol", "diesel"]
SyncEvent: TypeAlias = Literal["ignition", "injector", "cam"]
SyncEvery: TypeAlias = Literal[360, 720]
Flywheel: TypeAlias = Literal["", "one-piece", "two-mass"]
"""As a person says it; "" where nobody knows. A torque converter counts as one piece."""
Banks: TypeAlias = tuple[tuple[int, ...], ...]
"""Cylinder numbers of each bank."""

BANK_EVEN_WITHIN = 0.055
LEAST_BANK_LIMIT, MOST_BANK_LIMIT = 0.02, 0.3
"""From which difference of means banks are uneven unless a shop says otherwise, and what it may
say; banks of up to four cylinders that fire evenly are uneven from 0.92 of it."""

AngleFrom: TypeAlias = Literal["typed", "kept"]
"""How the angle of a sync event is known."""

MOST_BITS = 32


SAME_CHANNEL = say("Clamp and sync cannot be the same channel; choose another for one.")
SAME_VOLTAGE_CHANNEL = say(
    "The battery voltage cannot be on the clamp's or the sync's channel; choose another."
)

CrankedBy: TypeAlias = Literal["starter", "belt", "traction"]
"""What turns the engine: its starter, a belt starter-generator, or a hybrid's drive motor."""


@dataclass(frozen=True, slots=True)
class SyncSetup:
    """Which channel marks which cylinder, and how often in crank degrees.

    `bit` is for a channel that is a bit mask, as control units log it: the event is that bit,
    counted from 0, the lowest. `angle_deg` is where the event stands from the firing top dead
    centre of `cylinder`, in crank degrees, negative before it; `angle_spread_deg` is the standard
    deviation of that figure. None where it is not known. `angle_from` says how it is known: typed
    with this set-up, or kept with the engine.
    """

    channel: str
    cylinder: int
    event: SyncEvent = "ignition"
    every_deg: SyncEvery = 720
    bit: int | None = None
    angle_deg: float | None = None
    angle_spread_deg: float | None = None
    angle_from: AngleFrom | None = None

    def __post_init__(self) -> None:
        if self.angle_deg is not None and not abs(self.angle_deg) <= CYCLE_DEG:
            raise SetupError(_("The angle of the sync event lies between -720 and 720 degrees."))
        if self.angle_spread_deg is not None and not 0 < self.angle_spread_deg <= 180:
            raise SetupError(_("The spread of the sync angle lies between 0 and 180 degrees."))
        if self.bit is not None and not 0 <= self.bit < MOST_BITS:
            raise SetupError(
                _("A sync bit lies between 0, the lowest, and {most_bits}.").format(
                    most_bits=MOST_BITS - 1
                )
            )


@dataclass(frozen=True, slots=True)
class EventToMeasure:
    """An injector's or cam sensor's channel whose angle is to be measured beside the sync.

    The angle counts from the firing top dead centre of `cylinder`; `bit` as of a sync channel.
    """

    channel: str
    event: Literal["injector", "cam"]
    cylinder: int
    bit: int | None = None

    def __post_init__(self) -> None:
        if self.bit is not None and not 0 <= self.bit < MOST_BITS:
            raise SetupError(
                _("A bit lies between 0, the lowest, and {most_bits}.").format(
                    most_bits=MOST_BITS - 1
                )
            )


@dataclass(frozen=True, slots=True)
class AnalysisSetup(PlainJson):
    """Everything the analysis needs besides the samples.

    Parameters
    ----------
    firing_order
        The engine's firing sequence and angles.
    current_channel
        Name, or number from 1, of the channel to judge: the clamp's where `signal` is the
        starter current, else the battery's or the crank sensor's.
    mv_per_a
        Clamp scale: 10 mV/A makes 1 V = 100 A. Means nothing for other signals.
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
    signal
        What the channel to judge shows.
    voltage_channel
        Battery voltage recorded beside the clamp's current; None where it was not.
    wheel
        The crank sensor's, for the signal of that name.
    cranked_by
        With `traction` there is no starter current, and nothing is judged from it.
    hand
        What a person changed by hand after looking at an earlier run.
    banks
        Cylinder numbers of each bank, like ((1, 3, 5), (2, 4, 6)); None where the engine has one
        bank or they are not known.
    bank_even_within
        From which difference of their means, as a share of a good cylinder, banks of up to four
        cylinders are uneven; larger banks from a little less.
    measured_event
        Another channel's event whose angle is measured once the cylinders are settled.
    opened_plug
        The cylinder whose plug was out in this capture, so that its compression drops out.
    flywheel
        Asked where the engine idles: two masses move the effect of one cylinder onto others.
    pressure
        Of the transducer, for the signal of one cylinder's pressure.

    Raises
    ------
    SetupError
        If the scale or a limit makes no sense or the sync cylinder is not in the engine.
    """

    skips_unknown: ClassVar[bool] = True

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
    signal: Signal = DEFAULT_SIGNAL
    voltage_channel: str | None = None
    wheel: ToothWheel = field(default_factory=ToothWheel)
    cranked_by: CrankedBy = "starter"
    hand: ManualEdits = NO_EDITS
    banks: Banks | None = None
    bank_even_within: float = BANK_EVEN_WITHIN
    measured_event: EventToMeasure | None = None
    opened_plug: int | None = None
    flywheel: Flywheel = ""
    pressure: PressureSetup | None = None

    def __post_init__(self) -> None:
        if not 0.01 <= self.mv_per_a <= 10_000:
            raise SetupError(
                _(
                    "The clamp's scale must lie between 0.01 and 10000 mV/A; read it off the "
                    "clamp's switch."
                )
            )
        if self.full_scale_v is not None and not 0 < self.full_scale_v <= 10_000:
            raise SetupError(_("Full scale must be a positive number of volts, at most 10000."))
        if self.rate_hz is not None and not 0 < self.rate_hz <= 1e9:
            raise SetupError(_("The sample rate must be a positive number of hertz."))
        if self.signal not in SIGNALS:
            raise SetupError(_("There is no such signal: {signal}.").format(signal=self.signal))
        self._check_limits()
        self._check_cylinders()
        if self.sync and self.sync.channel.strip() == self.current_channel.strip():
            raise SetupError(SAME_CHANNEL)
        if self.voltage_channel is not None:
            self._check_voltage_channel(self.voltage_channel.strip())
        if self.banks is not None:
            self._check_banks(self.banks)
        if self.measured_event is not None:
            self._check_measured(self.measured_event)
        self._check_other_signals()

    def _check_other_signals(self) -> None:
        if self.flywheel not in get_args(Flywheel):
            raise SetupError(_("The flywheel is one-piece, two-mass, or left empty."))
        if self.kind.shows_compressions:
            return
        if self.kind.shows_one_cylinder:
            self._check_transducer()
        if self.opened_plug or self.measured_event or self.hand != NO_EDITS:
            raise SetupError(
                _(
                    "A plug that was out, an angle to measure and changes by hand belong to a "
                    "crank of all cylinders; leave them out here."
                )
            )

    def _check_transducer(self) -> None:
        cylinder = self.pressure.cylinder if self.pressure else None
        # a file on the command line may come without the firing order
        if cylinder is None or len(self.firing_order) == 1:
            return
        if cylinder not in self.firing_order.sequence:
            raise SetupError(
                _(
                    "Cylinder {cylinder}, where the transducer sits, is not in the firing order "
                    "{firing_order}; choose one of its cylinders."
                ).format(cylinder=cylinder, firing_order=self.firing_order)
            )

    @property
    def kind(self) -> SignalKind:
        """What is known of the signal."""
        return kind_of(self.signal)

    def _check_cylinders(self) -> None:
        if self.sync and self.sync.cylinder not in self.firing_order.sequence:
            raise SetupError(
                _(
                    "Sync cylinder {cylinder} is not in the firing order {firing_order}; "
                    "choose one of its cylinders."
                ).format(cylinder=self.sync.cylinder, firing_order=self.firing_order)
            )
        if self.hand.marks and self.hand.marks.cylinder not in self.firing_order.sequence:
            raise SetupError(
                _(
                    "Cylinder {cylinder}, marked by hand, is not in the firing order "
                    "{firing_order}; choose one of its cylinders."
                ).format(cylinder=self.hand.marks.cylinder, firing_order=self.firing_order)
            )
        if self.opened_plug is not None and self.opened_plug not in self.firing_order.sequence:
            raise SetupError(
                _(
                    "Cylinder {opened_plug}, whose plug is out, is not in the firing order "
                    "{firing_order}; choose one of its cylinders."
                ).format(opened_plug=self.opened_plug, firing_order=self.firing_order)
            )
        if self.opened_plug is not None and len(self.firing_order) == 1:
            raise SetupError(_("The only cylinder cannot be the open one; leave that field empty."))

    def _check_measured(self, measured: EventToMeasure) -> None:
        if measured.cylinder not in self.firing_order.sequence:
            raise SetupError(
                _(
                    "Cylinder {cylinder}, from which an angle is to count, is not in the "
                    "firing order {firing_order}; choose one of its cylinders."
                ).format(cylinder=measured.cylinder, firing_order=self.firing_order)
            )
        if measured.channel.strip() == self.current_channel.strip():
            raise SetupError(
                _("The channel to judge cannot be the one whose angle is measured; choose another.")
            )

    def _check_limits(self) -> None:
        if not 0 < self.suspect_below <= self.watch_below <= 1:
            raise SetupError(_("The limits must rise: 0 < suspect <= watch <= 1."))
        if not LEAST_BANK_LIMIT <= self.bank_even_within <= MOST_BANK_LIMIT:
            raise SetupError(
                _(
                    "The limit for banks lies between {least_bank_limit} and "
                    "{most_bank_limit}, as a share of a good cylinder; 0.055 is 5.5 points."
                ).format(least_bank_limit=LEAST_BANK_LIMIT, most_bank_limit=MOST_BANK_LIMIT)
            )

    def _check_banks(self, banks: Banks) -> None:
        named = [cylinder for bank in banks for cylinder in bank]
        if len(banks) < 2 or not all(banks) or sorted(named) != sorted(self.firing_order.sequence):
            raise SetupError(
                _(
                    "The banks must name each cylinder of the firing order once, in two or "
                    "more banks, like 1,3,5/2,4,6."
                )
            )

    def _check_voltage_channel(self, channel: str) -> None:
        if not self.kind.is_current:
            raise SetupError(
                _("A battery voltage channel stands beside the starter current only; leave it out.")
            )
        if channel in (self.current_channel.strip(), self.sync and self.sync.channel.strip()):
            raise SetupError(SAME_VOLTAGE_CHANNEL)

    def to_json(self) -> dict[str, Any]:
        """Return plain JSON values; `from_json` reads them back."""
        angles_deg = list(self.firing_order.tdc_angles_deg)
        return fields_json(self) | {
            "firing_order": str(self.firing_order),
            "tdc_angles": angles_deg,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Read what `to_json` wrote, by this version or an older one."""
        given = {name: value for name, value in data.items() if name != "tdc_angles"}
        given["firing_order"] = FiringOrder.parse(data["firing_order"], data["tdc_angles"])
        # older versions wrote what was empty so, too
        given |= {
            name: data.get(name) or None for name in ("sync", "banks", "measured_event", "pressure")
        }
        return fields_from(cls, given)


def banks_from(rows: Sequence[Sequence[int]] | None) -> Banks | None:
    """Return banks as a set-up holds them; None where none are given."""
    return tuple(tuple(bank) for bank in rows) if rows else None
