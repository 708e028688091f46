"""How a capture is to be analysed, in the order in which a person answers."""

from dataclasses import dataclass, replace
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext as _

from engines.core.firing import FiringOrder, FiringOrderError
from engines.models import Engine
from shopdiag.people.core.numerals import written
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.models import Member
from traces.core.setup import (
    SAME_CHANNEL,
    SAME_VOLTAGE_CHANNEL,
    AnalysisSetup,
    EventToMeasure,
    SetupError,
    SyncSetup,
    ToothWheel,
)
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNALS, SignalKind, kind_of
from traces.forms.pressure_fields import pressure_setup_of
from traces.forms.setup_fields import NO_SCALE, OTHER, SetupFields, offer_clamps
from traces.models import Reading
from traces.selectors.clamps import clamp_names_by_scale
from traces.selectors.event_angles import with_kept_angle
from traces.services import Conditions
from traces.services.runs import check_against_reading

_AMPS = ("a", "ma")
_NO_SCALE_MV_PER_A = 1000.0
"""1 V/A stands where a scale is shown and there is none to know."""

_CONDITIONS = ("fuel_off", "charger_off", "throttle")
"""Asked where the engine may have been cranked; hidden where it idles."""
_SYNC = ("sync_channel", "sync_cylinder", "sync_bit", "sync_angle", "sync_angle_known_from")

_TRUTH = {"yes": True, "no": False}


def yes_no_word(truth: bool | None) -> str:
    """Return the choice that stands for a noted truth; "" where nothing was noted."""
    return "" if truth is None else "yes" if truth else "no"


class PressForm(forms.Form):
    """A press of a button that asks for nothing else; sent twice it counts once."""

    form_token = forms.UUIDField()


@dataclass(frozen=True, slots=True)
class SetupInput:
    """What a valid form holds, for `traces.services.run_add`."""

    engine: Engine
    analysis: AnalysisSetup
    conditions: Conditions
    angle_known_from: str = ""
    """How a typed sync angle is known; with it the angle is kept with the engine."""


class SetupForm(SetupFields):
    """A capture's set-up: what is answered there, held against the file and itself."""

    # Not called optional: whether they are needed hangs on the file or on another answer.
    _AT_TIMES_NEEDED = (
        "signal",
        "scale_typed",
        "full_scale_v",
        "rate_hz",
        "sync_event",
        "sync_cylinder",
        "sync_every",
        "pressure_cylinder",
        "pressure_scale",
        "pressure_scale_typed",
    )
    _UNITS = {
        "sync_angle": "°",
        "scale_typed": "mV/A",
        "full_scale_v": "V",
        "rate_hz": "Hz",
        "battery_v": "V",
        "pressure_scale_typed": "kPa/V",
        "zero_v": "V",
        "air_kpa": "kPa",
    }

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        member: Member,
        reading: Reading,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._member = member
        self._reading = reading
        self._given: SetupInput | None = None
        self.initial.setdefault("form_token", uuid4())
        names = [str(c["name"]) for c in reading.channels]
        self._field("engine", forms.ModelChoiceField).queryset = Engine.objects.seen_by(
            member
        ).in_use()
        self._field("current_channel", forms.ChoiceField).choices = [(n, n) for n in names]
        for name in ("sync_channel", "voltage_channel", "measured_channel"):
            choices = [("", _("None")), *((n, n) for n in names)]
            self._field(name, forms.ChoiceField).choices = choices
        offer_clamps(self._field("scale", forms.ChoiceField), clamp_names_by_scale(member))
        self._offer_cylinders()
        if not reading.understood.get("full_scale"):
            del self.fields["full_scale_v"]
        if reading.understood.get("rate_hz"):
            del self.fields["rate_hz"]
        # A file in amps needs no scale, nor does another signal; any other does. What is typed
        # chooses “another” by itself.
        typed = str(self.data.get(self.add_prefix("scale_typed")) or "").strip()
        self.fields["scale"].required = (
            self._asked_kind.needs_scale
            and not typed
            and not any(self._unit_of(n) in _AMPS for n in names)
        )
        field: Any
        for name in self._AT_TIMES_NEEDED:
            if name in self.fields:
                field = self.fields[name]
                field.at_times_needed = True
        for name, unit in self._UNITS.items():
            if name in self.fields:
                field = self.fields[name]
                # The field's template shows it behind the box.
                field.unit = unit

    @property
    def engine_chosen(self) -> Engine | None:
        """The engine that is chosen so far; None where none of the shop's is."""
        asked = self["engine"].value()
        pk = asked.pk if isinstance(asked, Engine) else str(asked or "")
        if not is_row_id(str(pk)):
            return None
        return Engine.objects.seen_by(self._member).in_use().filter(pk=int(pk)).first()

    def _offer_cylinders(self) -> None:
        """Offer the chosen engine's cylinders as taps, and with them whatever was typed."""
        engine = self.engine_chosen
        if engine is None:
            return
        for name in ("sync_cylinder", "pressure_cylinder"):
            typed = str(self[name].value() or "").strip()
            numbers = [str(number) for number in sorted(engine.order.sequence)]
            if typed and typed not in numbers:
                if not typed.isdecimal():
                    continue
                numbers.append(typed)
            self.fields[name].widget = forms.RadioSelect(choices=[(n, n) for n in numbers])

    @property
    def _asked_kind(self) -> SignalKind:
        """What the channel is said to show; the other questions hang on it."""
        typed = self.data.get(self.add_prefix("signal"))
        return kind_of(typed if typed in SIGNALS else DEFAULT_SIGNAL)

    @property
    def given(self) -> SetupInput:
        """What a valid form holds."""
        if self._given is None:
            raise ValueError("Only a valid form holds a set-up.")
        return self._given

    def clean(self) -> dict[str, Any]:
        """Put the set-up together; each contradiction stands at its field."""
        data = super().clean() or {}
        signal = data.get("signal") or DEFAULT_SIGNAL
        kind = kind_of(signal)
        if not kind.is_current:
            # those questions are hidden then; what still stands in them means nothing
            data |= {"scale": "", "invert": "auto", "voltage_channel": ""}
        if kind.shows_compressions or kind.shows_one_cylinder:
            data["flywheel"] = ""
        else:
            data |= dict.fromkeys(_CONDITIONS, "") | {"battery_v": None}
        if not kind.shows_compressions:
            data |= {"measured_channel": "", "opened_plug": None}
        if kind.shows_one_cylinder:
            data |= dict.fromkeys(_SYNC)
        mv_per_a = self._scale(data) if kind.needs_scale else _NO_SCALE_MV_PER_A
        order = self._order(data)
        sync = self._sync(data, order)
        measured = self._measured(data, order)
        self._check_opened(data, order)
        voltage_channel = data.get("voltage_channel")
        if voltage_channel and voltage_channel in (
            data.get("current_channel"),
            data.get("sync_channel"),
        ):
            self.add_error("voltage_channel", str(SAME_VOLTAGE_CHANNEL))
        wheel = self._wheel(data) if kind.asks_wheel else ToothWheel()
        pressure = (
            pressure_setup_of(self, data, order, self._unit_of(data.get("current_channel")))
            if kind.shows_one_cylinder
            else None
        )
        if self.errors or order is None or mv_per_a is None:
            return data
        try:
            analysis = AnalysisSetup(
                firing_order=order,
                current_channel=data["current_channel"],
                mv_per_a=mv_per_a,
                sync=sync,
                invert=_TRUTH.get(data["invert"]),
                fuel=data.get("fuel") or data["engine"].fuel,
                full_scale_v=data.get("full_scale_v"),
                rate_hz=data.get("rate_hz"),
                suspect_below=self._member.shop.suspect_below,
                watch_below=self._member.shop.watch_below,
                bank_even_within=self._member.shop.bank_even_within,
                signal=signal,
                voltage_channel=voltage_channel or None,
                wheel=wheel,
                flywheel=data.get("flywheel") or "",
                measured_event=measured,
                opened_plug=data.get("opened_plug"),
                pressure=pressure,
                banks=data["engine"].banks,
            )
            check_against_reading(self._reading, analysis)
        except SetupError as error:
            self.add_error(None, str(error))
            return data
        self._given = SetupInput(
            engine=data["engine"],
            analysis=analysis,
            conditions=Conditions(
                fuel_off=_TRUTH.get(data["fuel_off"]),
                charger_off=_TRUTH.get(data["charger_off"]),
                throttle=data["throttle"],
                temperature=data["temperature"],
                battery_v=data["battery_v"],
            ),
            angle_known_from=data.get("sync_angle_known_from", "")
            if sync and sync.angle_from == "typed"
            else "",
        )
        return data

    def _scale(self, data: dict[str, Any]) -> float | None:
        choice, typed = data.get("scale"), data.get("scale_typed")
        if "scale_typed" in self.errors:
            return None
        if choice == OTHER or (not choice and typed is not None):
            return self._typed_scale(typed)
        if choice and typed is not None and typed != float(choice):
            self.add_error(
                "scale_typed",
                _(
                    "%(choice)s mV/A is chosen above and %(typed)s typed here: choose "
                    "“another”, or empty this field."
                )
                % {"choice": written(choice), "typed": written(f"{typed:g}")},
            )
            return None
        if choice:
            return float(choice)
        if self._unit_of(data.get("current_channel")) in _AMPS:
            # The file holds amps already; 1 V/A says so where a scale is shown.
            return _NO_SCALE_MV_PER_A
        if "scale" not in self.errors:
            self.add_error("scale", NO_SCALE)
        return None

    def _typed_scale(self, typed: float | None) -> float | None:
        if typed is not None and 0.01 <= typed <= 10_000:
            return float(typed)
        self.add_error(
            "scale_typed",
            _("Type the clamp's scale in mV/A.")
            if typed is None
            else _("The scale lies between 0.01 and 10000 mV/A; read it off the clamp's switch."),
        )
        return None

    def _order(self, data: dict[str, Any]) -> FiringOrder | None:
        engine: Engine | None = data.get("engine")
        typed = data.get("firing_order") or ""
        if engine is None:
            return None
        if not typed:
            return engine.order
        try:
            return engine.order_typed(typed)
        except FiringOrderError as error:
            self.add_error("firing_order", str(error))
            return None

    def _sync(self, data: dict[str, Any], order: FiringOrder | None) -> SyncSetup | None:
        channel = data.get("sync_channel")
        if not channel:
            cylinder = data.get("sync_cylinder")
            if cylinder is not None and "sync_channel" not in self.errors:
                # analysed without a sync, the cylinder typed would be lost without a word
                self.add_error(
                    "sync_channel",
                    _(
                        "Choose the channel that the pick-up on cylinder %(cylinder)s was recorded "
                        "on, or empty that field."
                    )
                    % {"cylinder": cylinder},
                )
            return None
        if channel == data.get("current_channel"):
            self.add_error("sync_channel", str(SAME_CHANNEL))
            return None
        cylinder = data.get("sync_cylinder")
        if cylinder is None:
            if "sync_cylinder" not in self.errors:
                self.add_error("sync_cylinder", _("Say which cylinder the pick-up sat on."))
            return None
        if order and cylinder not in order.sequence:
            self.add_error(
                "sync_cylinder",
                _(
                    "This engine has no cylinder %(cylinder)s: its firing order is %(order)s; "
                    "choose one of those."
                )
                % {"cylinder": cylinder, "order": order},
            )
            return None
        sync = SyncSetup(
            channel=channel,
            cylinder=cylinder,
            event=data.get("sync_event") or "ignition",
            every_deg=360 if data.get("sync_every") == 360 else 720,
            bit=data.get("sync_bit"),
        )
        return self._with_angle(sync, data)

    def _with_angle(self, sync: SyncSetup, data: dict[str, Any]) -> SyncSetup:
        """Return the sync with its angle: the one typed, or the one kept with the engine."""
        engine: Engine | None = data.get("engine")
        # that question is hidden for ignition; what still stands in it means nothing
        if sync.event == "ignition" or "sync_angle" in self.errors:
            return sync
        typed = data.get("sync_angle")
        if typed is not None:
            if not data.get("sync_angle_known_from"):
                self.add_error(
                    "sync_angle_known_from",
                    _("Say how the angle is known, like the page of the manufacturer's data."),
                )
            return replace(sync, angle_deg=float(typed), angle_from="typed")
        return with_kept_angle(self._member, engine, sync)

    def _check_opened(self, data: dict[str, Any], order: FiringOrder | None) -> None:
        opened = data.get("opened_plug")
        if opened is not None and order and opened not in order.sequence:
            self.add_error(
                "opened_plug",
                _("This engine has no cylinder %(opened)s; type one it has.") % {"opened": opened},
            )

    def _measured(self, data: dict[str, Any], order: FiringOrder | None) -> EventToMeasure | None:
        channel = data.get("measured_channel")
        if not channel:
            return None
        if channel in (data.get("current_channel"), data.get("sync_channel")):
            self.add_error("measured_channel", _("This channel is used above; choose another."))
            return None
        cylinder = data.get("measured_cylinder")
        if cylinder is None or (order and cylinder not in order.sequence):
            if "measured_cylinder" not in self.errors:
                self.add_error("measured_cylinder", _("Type a cylinder of this engine, like 1."))
            return None
        return EventToMeasure(channel, data.get("measured_event") or "cam", cylinder)

    def _wheel(self, data: dict[str, Any]) -> ToothWheel:
        try:
            return ToothWheel.from_json(
                {
                    "teeth": data.get("wheel_teeth"),
                    "missing": data.get("wheel_missing"),
                    "pattern": data.get("wheel_pattern"),
                }
            )
        except SetupError as error:
            field = "wheel_pattern" if data.get("wheel_pattern") else "wheel_missing"
            self.add_error(field, str(error))
            return ToothWheel()

    def _unit_of(self, channel: str | None) -> str:
        units = {c["name"]: (c["unit"] or "").casefold() for c in self._reading.channels}
        return units.get(channel, "") if channel else ""

    def _field(self, name: str, kind: type[Any]) -> Any:  # noqa: ANN401 - a field of the kind asked for
        field = self.fields[name]
        if not isinstance(field, kind):
            raise TypeError(name)
        return field
