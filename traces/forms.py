"""How a capture is to be analysed, in the order in which a person answers."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias
from uuid import uuid4

from django import forms

from engines.core.firing import FiringOrder, FiringOrderError
from engines.models import Engine
from engines.selectors import engines_seen_by
from shopdiag.people.models import Member
from traces.core.setup import AnalysisSetup, SetupError, SyncSetup
from traces.models import CaptureSetup, Reading
from traces.services import Conditions
from traces.services.runs import check_against_reading

OTHER = "other"
SCALES = ("1", "10", "50", "100")
_AMPS = ("a", "ma")
_NO_SCALE = "Choose the clamp's scale; read it off the clamp's switch."
_NO_CHANNEL = "This file has no such channel; choose one of those shown."
_STALE = "This page is damaged; open it anew and fill it in again."
_YES_NO = [("", "Not noted"), ("yes", "Yes"), ("no", "No")]
_TRUTH = {"yes": True, "no": False}


def yes_no_word(truth: bool | None) -> str:
    """Return the choice that stands for a noted truth; "" where nothing was noted."""
    return "" if truth is None else "yes" if truth else "no"


if TYPE_CHECKING:
    EngineChoiceField: TypeAlias = forms.ModelChoiceField[Engine]
else:
    EngineChoiceField = forms.ModelChoiceField


class _EngineField(EngineChoiceField):
    def label_from_instance(self, obj: Engine) -> str:
        fuel = ", diesel" if obj.fuel == Engine.Fuel.DIESEL else ""
        order = "" if obj.firing_order in obj.name else f": {obj.firing_order}"
        return f"{obj.name}{fuel}{order}"


@dataclass(frozen=True, slots=True)
class SetupInput:
    """What a valid form holds, for `traces.services.run_add`."""

    engine: Engine
    analysis: AnalysisSetup
    conditions: Conditions


class SetupForm(forms.Form):
    """A capture's set-up: engine, clamp, sync, conditions."""

    engine = _EngineField(
        label="Engine",
        queryset=Engine.objects.none(),
        empty_label="choose",
        help_text="With its firing order, numbers as the maker counts the cylinders.",
        error_messages={
            "required": "Choose the engine.",
            "invalid_choice": "That engine is not in your shop's list; choose another.",
        },
    )
    firing_order = forms.CharField(
        label="Another firing order",
        required=False,
        max_length=60,
        help_text="Only where this engine fires otherwise than the line above says, like 1-2-4-3.",
    )
    scale = forms.ChoiceField(
        label="Clamp scale",
        choices=[*((s, f"{s} mV/A") for s in SCALES), (OTHER, "another")],
        widget=forms.RadioSelect,
        required=False,
        help_text="Read it off the clamp's switch. 10 mV/A makes 1 V = 100 A.",
        error_messages={"required": _NO_SCALE, "invalid_choice": _NO_SCALE},
    )
    scale_typed = forms.FloatField(
        label="The other scale",
        required=False,
        help_text="Needed where the clamp's scale is another than those above.",
        error_messages={"invalid": "Type the scale as a number, like 2.5."},
    )
    current_channel = forms.ChoiceField(
        label="Clamp channel",
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose the channel that the clamp was on.",
            "invalid_choice": _NO_CHANNEL,
        },
    )
    full_scale_v = forms.FloatField(
        label="Volts at full scale",
        required=False,
        help_text="This file holds shares of the recorder's range; its input range says how many.",
        error_messages={"invalid": "Type the volts at full scale as a number, like 5."},
    )
    rate_hz = forms.FloatField(
        label="Sample rate",
        required=False,
        help_text="The file does not say how fast it was sampled.",
        error_messages={"invalid": "Type the sample rate as a number of hertz, like 2000."},
    )
    invert = forms.ChoiceField(
        label="Turn the clamp's sign round",
        choices=[("auto", "Find out"), ("yes", "Yes"), ("no", "No")],
        widget=forms.RadioSelect,
        initial="auto",
        help_text="A clamp with its arrow the other way shows the humps upside down.",
    )
    sync_channel = forms.ChoiceField(
        label="Sync channel",
        widget=forms.RadioSelect,
        required=False,
        error_messages={"invalid_choice": _NO_CHANNEL},
    )
    sync_event = forms.ChoiceField(
        label="What it picks up",
        choices=[("ignition", "Ignition"), ("injector", "Injector"), ("cam", "Cam sensor")],
        widget=forms.RadioSelect,
        required=False,
        initial="ignition",
    )
    sync_cylinder = forms.IntegerField(
        label="Of which cylinder",
        required=False,
        min_value=1,
        help_text="The cylinder the pick-up sat on; needed with a sync channel.",
        error_messages={
            "invalid": "Type the cylinder's number, like 1.",
            "min_value": "Cylinders count from 1; type the number of the one the pick-up sat on.",
        },
    )
    sync_every = forms.TypedChoiceField(
        label="How often it comes",
        choices=[("720", "Once in two turns (720°)"), ("360", "Every turn (360°), wasted spark")],
        widget=forms.RadioSelect,
        required=False,
        coerce=int,
        empty_value=None,
        initial="720",
    )
    fuel_off = forms.ChoiceField(
        label="Fuel made safe and off", choices=_YES_NO, widget=forms.RadioSelect, required=False
    )
    charger_off = forms.ChoiceField(
        label="Battery charger off", choices=_YES_NO, widget=forms.RadioSelect, required=False
    )
    throttle = forms.ChoiceField(
        label="Throttle",
        choices=CaptureSetup.Throttle.choices,
        widget=forms.RadioSelect,
        required=False,
    )
    temperature = forms.ChoiceField(
        label="Engine",
        choices=CaptureSetup.Temperature.choices,
        widget=forms.RadioSelect,
        required=False,
    )
    battery_v = forms.FloatField(
        label="Battery before cranking",
        required=False,
        min_value=0,
        max_value=60,
        error_messages={
            "invalid": "Type the battery's voltage as a number, like 12.6.",
            "min_value": "A battery's voltage lies between 0 and 60 V; read it again.",
            "max_value": "A battery's voltage lies between 0 and 60 V; read it again.",
        },
    )
    form_token = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={"required": _STALE, "invalid": _STALE},
    )

    # Not called optional: whether they are needed hangs on the file or on another answer.
    _AT_TIMES_NEEDED = (
        "scale_typed",
        "full_scale_v",
        "rate_hz",
        "sync_event",
        "sync_cylinder",
        "sync_every",
    )
    _UNITS = {"scale_typed": "mV/A", "full_scale_v": "V", "rate_hz": "Hz", "battery_v": "V"}

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
        self._field("engine", forms.ModelChoiceField).queryset = engines_seen_by(member)
        self._field("current_channel", forms.ChoiceField).choices = [(n, n) for n in names]
        self._field("sync_channel", forms.ChoiceField).choices = [
            ("", "None"),
            *((n, n) for n in names),
        ]
        if not reading.understood.get("full_scale"):
            del self.fields["full_scale_v"]
        if reading.understood.get("rate_hz"):
            del self.fields["rate_hz"]
        # A file in amps needs no scale; any other does.
        self.fields["scale"].required = not any(self._unit_of(n) in _AMPS for n in names)
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
                field.widget.attrs["step"] = "any"

    @property
    def given(self) -> SetupInput:
        """What a valid form holds."""
        if self._given is None:
            raise ValueError("Only a valid form holds a set-up.")
        return self._given

    def clean(self) -> dict[str, Any]:
        """Put the set-up together; each contradiction stands at its field."""
        data = super().clean() or {}
        mv_per_a = self._scale(data)
        order = self._order(data)
        sync = self._sync(data, order)
        if self.errors or order is None or mv_per_a is None:
            return data
        try:
            analysis = AnalysisSetup(
                firing_order=order,
                current_channel=data["current_channel"],
                mv_per_a=mv_per_a,
                sync=sync,
                invert=_TRUTH.get(data["invert"]),
                fuel=data["engine"].fuel,
                full_scale_v=data.get("full_scale_v"),
                rate_hz=data.get("rate_hz"),
                suspect_below=self._member.shop.suspect_below,
                watch_below=self._member.shop.watch_below,
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
        )
        return data

    def _scale(self, data: dict[str, Any]) -> float | None:
        choice = data.get("scale")
        if choice == OTHER:
            if "scale_typed" in self.errors:
                return None
            if data.get("scale_typed") is None:
                self.add_error("scale_typed", "Type the clamp's scale in mV/A.")
            elif not 0.01 <= data["scale_typed"] <= 10_000:
                self.add_error(
                    "scale_typed",
                    "The scale lies between 0.01 and 10000 mV/A; read it off the clamp's switch.",
                )
            else:
                return float(data["scale_typed"])
            return None
        if choice:
            return float(choice)
        if self._unit_of(data.get("current_channel")) in _AMPS:
            # The file holds amps already; 1 V/A says so where a scale is shown.
            return 1000.0
        if "scale" not in self.errors:
            self.add_error("scale", _NO_SCALE)
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
            return None
        if channel == data.get("current_channel"):
            self.add_error(
                "sync_channel",
                "Clamp and sync cannot be the same channel; choose another for one.",
            )
            return None
        cylinder = data.get("sync_cylinder")
        if cylinder is None:
            if "sync_cylinder" not in self.errors:
                self.add_error("sync_cylinder", "Say which cylinder the pick-up sat on.")
            return None
        if order and cylinder not in order.sequence:
            self.add_error(
                "sync_cylinder",
                f"This engine has no cylinder {cylinder}: its firing order is {order}; "
                "choose one of those.",
            )
            return None
        return SyncSetup(
            channel=channel,
            cylinder=cylinder,
            event=data.get("sync_event") or "ignition",
            every_deg=360 if data.get("sync_every") == 360 else 720,
        )

    def _unit_of(self, channel: str | None) -> str:
        units = {c["name"]: (c["unit"] or "").casefold() for c in self._reading.channels}
        return units.get(channel, "") if channel else ""

    def _field(self, name: str, kind: type[Any]) -> Any:  # noqa: ANN401 - a field of the kind asked for
        field = self.fields[name]
        if not isinstance(field, kind):
            raise TypeError(name)
        return field
