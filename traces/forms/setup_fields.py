"""The questions of a capture's set-up, in the order in which a person answers them."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shopdiag.people.number_field import NumberField
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNAL_KINDS, SignalKind, kind_of
from traces.forms.pressure_fields import PressureFields
from traces.models import CaptureSetup

OTHER = "other"
SCALES = ("1", "2", "10", "20", "50", "100")
NO_SCALE = _("Choose the clamp's scale; read it off the clamp's switch.")
_NO_CHANNEL = _("This file has no such channel; choose one of those shown.")
_STALE = _("This page is damaged; open it anew and fill it in again.")
NO_SUCH_SIGNAL = _("There is no such signal; choose one of those offered.")
_YES_NO = [("", _("Not noted")), ("yes", _("Yes")), ("no", _("No"))]

if TYPE_CHECKING:
    EngineChoiceField: TypeAlias = forms.ModelChoiceField[Engine]
else:
    EngineChoiceField = forms.ModelChoiceField


def offer_clamps(field: forms.ChoiceField, names_by_scale: Mapping[str, str]) -> None:
    """Write the shop's clamps beside their scales, those scales first."""
    owned = sorted(names_by_scale, key=float)
    scales = [*owned, *(s for s in SCALES if s not in names_by_scale)]
    field.choices = [
        *(
            (s, f"{s} mV/A: {names_by_scale[s]}" if s in names_by_scale else f"{s} mV/A")
            for s in scales
        ),
        (OTHER, _("another")),
    ]


class EngineField(EngineChoiceField):
    """An engine of the shop's list, with its fuel and order."""

    def label_from_instance(self, obj: Engine) -> str:
        fuel = gettext(", diesel") if obj.fuel == Engine.Fuel.DIESEL else ""
        order = "" if obj.firing_order in obj.name else f": {obj.firing_order}"
        spacing = (
            gettext(", fires %(spacing)s° apart") % {"spacing": obj.spacing} if obj.spacing else ""
        )
        return f"{obj.name_words}{fuel}{order}{spacing}"


def _asked_of(kind: SignalKind) -> str:
    """Return which other questions a signal has, as the page shows and hides them."""
    if kind.shows_one_cylinder:
        return "pressure conditions"
    return "cranked conditions" if kind.shows_compressions else "idle"


class SignalChoice(forms.RadioSelect):
    """What the channel shows; each tap says which other questions its signal asks."""

    def create_option(self, *args: Any, **kwargs: Any) -> dict[str, Any]:  # noqa: ANN401 - Django's
        option = super().create_option(*args, **kwargs)
        kind = kind_of(str(option["value"]))
        asks = (
            "clamp" if kind.needs_scale else "",
            "wheel" if kind.asks_wheel else "",
            _asked_of(kind),
        )
        option["attrs"]["data-asks"] = " ".join(filter(None, asks))
        return option


class SetupFields(PressureFields):
    """Engine, signal and clamp, sync, conditions."""

    engine = EngineField(
        label=_("Engine"),
        queryset=Engine.objects.none(),
        empty_label=_("choose"),
        help_text=_("With its firing order, numbers as the manufacturer counts the cylinders."),
        error_messages={
            "required": _("Choose the engine."),
            "invalid_choice": _("That engine is not in your shop's list; choose another."),
        },
    )
    fuel = forms.ChoiceField(
        label=_("Fuel"),
        required=False,
        choices=[
            ("", _("As the engine above")),
            ("petrol", _("Petrol or gas")),
            ("diesel", _("Diesel")),
        ],
        help_text=_("Only where this vehicle burns something else than the engine of the list."),
    )
    firing_order = forms.CharField(
        label=_("Another firing order"),
        required=False,
        max_length=60,
        help_text=_(
            "Only where this engine fires otherwise than the line above says, like 1-2-4-3."
        ),
    )
    signal = forms.ChoiceField(
        label=_("What the channel shows"),
        choices=[(kind.code, _(kind.choice)) for kind in SIGNAL_KINDS],
        widget=SignalChoice,
        required=False,
        initial=DEFAULT_SIGNAL,
        error_messages={"invalid_choice": NO_SUCH_SIGNAL},
        help_text=_(
            "Of compression the starter current tells most; voltage and teeth while cranking are "
            "trusted less. An idling engine tells which cylinder adds less, not why; the pressure "
            "in one cylinder tells its leak, its valves' timing and a blocked exhaust."
        ),
    )
    scale = forms.ChoiceField(
        label=_("Clamp scale"),
        choices=[*((s, f"{s} mV/A") for s in SCALES), (OTHER, _("another"))],
        widget=forms.RadioSelect,
        required=False,
        help_text=_("Read it off the clamp's switch. 10 mV/A makes 1 V = 100 A."),
        error_messages={"required": NO_SCALE, "invalid_choice": NO_SCALE},
    )
    scale_typed = NumberField(
        label=_("The other scale"),
        required=False,
        help_text=_("Where the clamp has none of the scales above."),
        error_messages={"invalid": _("Type the scale as a number, like 2.5.")},
    )
    current_channel = forms.ChoiceField(
        label=_("Channel to judge"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose the channel that is to be judged."),
            "invalid_choice": _NO_CHANNEL,
        },
    )
    full_scale_v = NumberField(
        label=_("Volts at full scale"),
        required=False,
        help_text=_(
            "This file holds values as a fraction of full scale; the recorder's range says "
            "how many volts that is."
        ),
        error_messages={"invalid": _("Type the volts at full scale as a number, like 5.")},
    )
    rate_hz = NumberField(
        label=_("Sample rate"),
        required=False,
        help_text=_("The file does not say how fast it was sampled."),
        error_messages={"invalid": _("Type the sample rate as a number of hertz, like 2000.")},
    )
    invert = forms.ChoiceField(
        label=_("Invert the current"),
        choices=[("auto", _("Find out")), ("yes", _("Yes")), ("no", _("No"))],
        widget=forms.RadioSelect,
        initial="auto",
        help_text=_("A clamp with its arrow the other way shows the humps upside down."),
    )
    voltage_channel = forms.ChoiceField(
        label=_("Battery voltage channel"),
        widget=forms.RadioSelect,
        required=False,
        help_text=_(
            "Where it was recorded beside the current: for figures of starter and battery."
        ),
        error_messages={"invalid_choice": _NO_CHANNEL},
    )
    wheel_pattern = forms.CharField(
        label=_("Wheel"),
        required=False,
        max_length=30,
        help_text=_(
            "Places and missing teeth like 60-2 or 36-2-1-1, or 12+1. Found from the "
            "recording where left out."
        ),
    )
    wheel_teeth = forms.IntegerField(
        label=_("Teeth per revolution"),
        required=False,
        min_value=4,
        max_value=400,
        help_text=_("Missing ones counted in, like 60. Found from the recording where left out."),
        error_messages={
            "invalid": _("Type the number of teeth, like 60."),
            "min_value": _("A tooth wheel has 4 to 400 teeth per revolution."),
            "max_value": _("A tooth wheel has 4 to 400 teeth per revolution."),
        },
    )
    wheel_missing = forms.IntegerField(
        label=_("Missing teeth"),
        required=False,
        min_value=0,
        max_value=100,
        help_text=_("Like 2. Found from the recording where left out."),
        error_messages={
            "invalid": _("Type the number of missing teeth, like 2."),
            "min_value": _("The number of missing teeth is 0 or more."),
            "max_value": _("At most a quarter of the wheel's teeth can be missing."),
        },
    )
    flywheel = forms.ChoiceField(
        label=_("Flywheel"),
        choices=[
            ("", _("Not known")),
            ("one-piece", _("One piece, or a torque converter")),
            ("two-mass", _("Two-mass")),
        ],
        widget=forms.RadioSelect,
        required=False,
        help_text=_(
            "By the manufacturer's data. A two-mass flywheel can make another cylinder look weak."
        ),
    )
    sync_channel = forms.ChoiceField(
        label=_("Sync channel"),
        widget=forms.RadioSelect,
        required=False,
        error_messages={"invalid_choice": _NO_CHANNEL},
    )
    sync_event = forms.ChoiceField(
        label=_("What it picks up"),
        choices=[
            ("ignition", _("Ignition")),
            ("injector", _("Injector")),
            ("cam", _("Cam sensor")),
        ],
        widget=forms.RadioSelect,
        required=False,
        initial="ignition",
    )
    sync_cylinder = forms.IntegerField(
        label=_("Of which cylinder"),
        required=False,
        min_value=1,
        help_text=_("The cylinder the pick-up sat on; needed with a sync channel."),
        error_messages={
            "invalid": _("Type the cylinder's number, like 1."),
            "min_value": _(
                "Cylinders count from 1; type the number of the one the pick-up sat on."
            ),
        },
    )
    sync_every = forms.TypedChoiceField(
        label=_("Sync repeats every"),
        choices=[("720", _("Two turns (720°)")), ("360", _("One turn (360°), wasted spark"))],
        widget=forms.RadioSelect,
        required=False,
        coerce=int,
        empty_value=None,
        initial="720",
    )
    sync_bit = forms.IntegerField(
        label=_("Bit of the sync channel"),
        required=False,
        min_value=0,
        max_value=31,
        help_text=_(
            "Only where a control unit's log holds several events in one number: "
            "the lowest bit is 0."
        ),
        error_messages={
            "invalid": _("Type the bit's number, like 0."),
            "min_value": _("Bits count from 0, the lowest."),
            "max_value": _("Bits count from 0, the lowest, to 31."),
        },
    )
    sync_angle = NumberField(
        label=_("Angle of the event"),
        required=False,
        min_value=-720,
        max_value=720,
        help_text=_(
            "Crank degrees from that cylinder's firing top dead centre, negative before it; "
            "of a cam with several edges, those of the first edge after the longest pause. Left "
            "empty, the angle kept with this engine counts; without one no cylinder is named."
        ),
        error_messages={
            "invalid": _("Type the angle in degrees, like -330."),
            "min_value": _("The angle lies between -720 and 720 degrees."),
            "max_value": _("The angle lies between -720 and 720 degrees."),
        },
    )
    sync_angle_known_from = forms.CharField(
        label=_("How the angle is known"),
        required=False,
        max_length=200,
        help_text=_(
            "Like the page of the manufacturer's data. The angle is then kept with the "
            "engine for later captures."
        ),
    )
    measured_channel = forms.ChoiceField(
        label=_("Measure the angle on channel"),
        required=False,
        help_text=_(
            "An injector or cam sensor recorded beside the sync: its angle is measured, and "
            "can be kept with the engine."
        ),
        error_messages={"invalid_choice": _NO_CHANNEL},
    )
    measured_event = forms.ChoiceField(
        label=_("What that channel shows"),
        choices=[("injector", _("Injector")), ("cam", _("Cam sensor"))],
        widget=forms.RadioSelect,
        required=False,
        initial="cam",
    )
    measured_cylinder = forms.IntegerField(
        label=_("Angle from the top dead centre of cylinder"),
        required=False,
        min_value=1,
        help_text=_("An injector's own cylinder; cylinder 1 for a cam sensor."),
        error_messages={
            "invalid": _("Type the cylinder's number, like 1."),
            "min_value": _("Cylinders count from 1; type the number of the cylinder."),
        },
    )
    opened_plug = forms.IntegerField(
        label=_("Cylinder with its plug out"),
        required=False,
        min_value=1,
        help_text=_(
            "Only if one plug was out in this capture: the compression that drops out is "
            "then this cylinder's and names all others. It is not judged itself. A sync of unknown "
            "angle is measured beside it. With any plug hole open fuel and ignition are both off."
        ),
        error_messages={
            "invalid": _("Type the cylinder's number, like 1."),
            "min_value": _(
                "Cylinders count from 1; type the number of the one whose plug was out."
            ),
        },
    )
    fuel_off = forms.ChoiceField(
        label=_("Fuel disabled"), choices=_YES_NO, widget=forms.RadioSelect, required=False
    )
    charger_off = forms.ChoiceField(
        label=_("Battery charger off"), choices=_YES_NO, widget=forms.RadioSelect, required=False
    )
    throttle = forms.ChoiceField(
        label=_("Throttle"),
        choices=CaptureSetup.Throttle.choices,
        widget=forms.RadioSelect,
        required=False,
    )
    temperature = forms.ChoiceField(
        label=_("Engine"),
        choices=CaptureSetup.Temperature.choices,
        widget=forms.RadioSelect,
        required=False,
    )
    battery_v = NumberField(
        label=_("Battery before cranking"),
        required=False,
        min_value=3,
        max_value=60,
        error_messages={
            "invalid": _("Type the battery's voltage as a number, like 12.6."),
            "min_value": _("A battery's voltage lies between 3 and 60 V; read it again."),
            "max_value": _("A battery's voltage lies between 3 and 60 V; read it again."),
        },
    )
    form_token = forms.UUIDField(
        widget=forms.HiddenInput,
        error_messages={"required": _STALE, "invalid": _STALE},
    )
