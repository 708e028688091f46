"""What captures, set-ups and runs look like to programs."""

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from engines.api.fields import SeenEngineField
from engines.core.firing import MOST_CYLINDERS
from shopdiag.people.api.serializers import KnownFields
from shopdiag.people.apps import MISSING
from shopdiag.people.core.words import worded
from traces.core.report import published_whole
from traces.core.setup import LEAST_BANK_LIMIT, MOST_BANK_LIMIT, MOST_LEFT_OUT, MOST_MARKS
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNAL_KINDS, kind_of
from traces.forms.setup_fields import NO_SUCH_SIGNAL
from traces.models import Capture, CaptureSetup, Reading, Run
from traces.selectors.readings import reading_anew

_MOST_BATTERY_V = 60


class ReadingSerializer(serializers.ModelSerializer[Reading]):
    """Where the reading of the file stands; `understood` is what `manage.py inspect` prints."""

    understood = serializers.SerializerMethodField()

    class Meta:
        model = Reading
        fields = ["state", "error", "understood", "correction", "shape"]
        read_only_fields = fields
        extra_kwargs = {
            "correction": {"help_text": "What a person said about the file, if anybody did."},
            "shape": {"help_text": "Files of one structure share it, and what was corrected."},
        }

    @extend_schema_field({"type": "object", "nullable": True})
    def get_understood(self, reading: Reading) -> dict[str, Any] | None:
        understood: dict[str, Any] = worded(reading.understood)
        return understood or None


class CaptureSerializer(serializers.ModelSerializer[Capture]):
    """A capture and what its file was understood to be, once it was read."""

    reading = ReadingSerializer(read_only=True)
    reading_anew = serializers.SerializerMethodField(
        help_text="A correction that waits, runs or failed; null otherwise."
    )
    runs = serializers.PrimaryKeyRelatedField[Any](many=True, read_only=True)

    class Meta:
        model = Capture
        fields = [
            "id",
            "original_name",
            "label",
            "size_bytes",
            "sha256",
            "uploaded_at",
            "reading",
            "reading_anew",
            "runs",
        ]
        read_only_fields = fields

    @extend_schema_field(ReadingSerializer(allow_null=True))
    def get_reading_anew(self, capture: Capture) -> dict[str, Any] | None:
        newest = reading_anew(capture)
        return dict(ReadingSerializer(newest).data) if newest else None


class SyncSerializer(KnownFields):
    """What marks which cylinder, and how often."""

    channel = serializers.CharField(
        max_length=120, help_text="Its name, or its number in the file from 1."
    )
    cylinder = serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS)
    event = serializers.ChoiceField(choices=["ignition", "injector", "cam"], default="ignition")
    every_deg = serializers.ChoiceField(choices=[720, 360], default=720)
    bit = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0,
        max_value=31,
        help_text="For a channel that is a bit mask: which bit is the event; the lowest is 0.",
    )
    angle_deg = serializers.FloatField(
        required=False,
        allow_null=True,
        default=None,
        min_value=-720,
        max_value=720,
        help_text="Crank degrees of the event from the cylinder's firing top dead centre, negative "
        "before it. Null takes the angle kept with the engine, if there is one.",
    )
    angle_spread_deg = serializers.FloatField(
        required=False,
        allow_null=True,
        default=None,
        min_value=0.1,
        max_value=180,
        help_text="Standard deviation of that angle.",
    )


class MeasuredEventSerializer(KnownFields):
    """Another channel whose event's angle is measured once the cylinders are settled."""

    channel = serializers.CharField(
        max_length=120, help_text="Its name, or its number in the file from 1."
    )
    event = serializers.ChoiceField(choices=["injector", "cam"], default="cam")
    cylinder = serializers.IntegerField(
        min_value=1,
        max_value=MOST_CYLINDERS,
        help_text="From whose firing top dead centre the angle counts.",
    )
    bit = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=0, max_value=31
    )


class WheelSerializer(KnownFields):
    """The wheel in front of a crank sensor; null is found from the recording."""

    teeth = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=4,
        max_value=400,
        help_text="Teeth per revolution, missing ones counted in.",
    )
    missing = serializers.IntegerField(
        required=False, allow_null=True, default=None, min_value=0, max_value=100
    )
    pattern = serializers.CharField(
        required=False,
        allow_null=True,
        default=None,
        max_length=30,
        help_text="Places and the missing teeth of each gap, like 36-2-1-1, or 12+1; instead of "
        "the two numbers.",
    )


class StretchField(serializers.ListField):
    """From and to, in seconds of the file's own time."""

    child = serializers.FloatField()

    def __init__(self, **kwargs: Any) -> None:  # noqa: ANN401 - the field's own
        super().__init__(min_length=2, max_length=2, **kwargs)


class HandMarksSerializer(KnownFields):
    """Events of one cylinder that a person marked; one is enough."""

    times_s = serializers.ListField(
        child=serializers.FloatField(), min_length=1, max_length=MOST_MARKS
    )
    cylinder = serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS)
    event = serializers.ChoiceField(
        choices=["ignition", "injector", "cam", "tdc"], default="ignition"
    )
    every_deg = serializers.ChoiceField(choices=[360, 720], default=720)


class HandSerializer(KnownFields):
    """What a person changed by hand; each change is named in the result's findings."""

    shift = serializers.IntegerField(
        default=0,
        min_value=-MOST_CYLINDERS,
        max_value=MOST_CYLINDERS,
        help_text="Places of the firing order by which the labels are moved on.",
    )
    span_s = StretchField(
        required=False, allow_null=True, default=None, help_text="The only stretch to judge."
    )
    left_out_s = serializers.ListField(
        child=StretchField(),
        required=False,
        default=list,
        max_length=MOST_LEFT_OUT,
        help_text="Stretches whose engine cycles are left out.",
    )
    marks = HandMarksSerializer(required=False, allow_null=True, default=None)


class TransducerSerializer(KnownFields):
    """A pressure transducer in place of one plug (`cylinder-pressure`)."""

    cylinder = serializers.IntegerField(
        min_value=1, max_value=MOST_CYLINDERS, help_text="Where it sits; no recording tells."
    )
    kpa_per_v = serializers.FloatField(
        required=False,
        allow_null=True,
        default=None,
        min_value=1.0,
        max_value=100_000.0,
        help_text="Its scale; left out where the file itself gives a pressure.",
    )
    zero_v = serializers.FloatField(
        required=False,
        allow_null=True,
        default=None,
        help_text="What it gives at the pressure of the air; null lets a rest in the file tell it.",
    )
    compression_ratio = serializers.FloatField(
        required=False, allow_null=True, default=None, min_value=5.0, max_value=25.0
    )
    air_kpa = serializers.FloatField(
        required=False, allow_null=True, default=None, min_value=50.0, max_value=110.0
    )


class RunAskedSerializer(KnownFields):
    """How to analyse a capture; an engine's id, or firing order and angles written out.

    With both, the written order stands in for the engine's, as on the page.
    """

    engine = SeenEngineField(required=False)
    firing_order = serializers.CharField(required=False, max_length=60)
    tdc_angles = serializers.ListField(
        child=serializers.FloatField(),
        required=False,
        max_length=MOST_CYLINDERS,
        help_text="Degrees from the first firing, for engines that fire unevenly.",
    )
    banks = serializers.ListField(
        child=serializers.ListField(
            child=serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS),
            min_length=1,
            max_length=MOST_CYLINDERS,
        ),
        required=False,
        allow_null=True,
        default=None,
        max_length=MOST_CYLINDERS,
        help_text="Cylinder numbers of each bank, bank A first; without them the engine's own.",
    )
    bank_even_within = serializers.FloatField(
        required=False,
        allow_null=True,
        default=None,
        min_value=LEAST_BANK_LIMIT,
        max_value=MOST_BANK_LIMIT,
        help_text="Difference of the banks' means, as a share of a good cylinder, from which one "
        "is called weaker; without it the shop's own.",
    )
    fuel = serializers.ChoiceField(choices=["petrol", "diesel"], required=False)
    current_channel = serializers.CharField(
        max_length=120, help_text="Its name, or its number in the file from 1."
    )
    signal = serializers.ChoiceField(
        choices=[kind.code for kind in SIGNAL_KINDS],
        default=DEFAULT_SIGNAL,
        error_messages={"invalid_choice": NO_SUCH_SIGNAL},
        help_text="What `current_channel` shows. Only the starter current needs `mv_per_a`.",
    )
    mv_per_a = serializers.FloatField(
        required=False,
        help_text="The clamp's scale: 10 makes 1 V = 100 A. 1000 for a file that holds amps.",
    )
    voltage_channel = serializers.CharField(
        required=False,
        allow_null=True,
        default=None,
        max_length=120,
        help_text="Battery voltage recorded beside the clamp, by name or number.",
    )
    wheel = WheelSerializer(required=False, allow_null=True, default=None)
    hand = HandSerializer(required=False, allow_null=True, default=None)
    invert = serializers.BooleanField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Null lets the sign follow from the recording.",
    )
    sync = SyncSerializer(required=False, allow_null=True, default=None)
    measured_event = MeasuredEventSerializer(required=False, allow_null=True, default=None)
    opened_plug = serializers.IntegerField(
        required=False,
        allow_null=True,
        default=None,
        min_value=1,
        max_value=MOST_CYLINDERS,
        help_text="The cylinder whose plug was out in this capture: its compression drops out and "
        "names the others, and a sync of unknown angle is measured beside it. Fuel and ignition "
        "are both off while a plug hole is open.",
    )
    flywheel = serializers.ChoiceField(
        choices=[("one-piece", "one-piece"), ("two-mass", "two-mass")],
        required=False,
        allow_blank=True,
        default="",
        help_text="Of an idling engine (`running-teeth`): two masses move the effect of one "
        "cylinder onto others. A torque converter counts as one piece; empty where nobody knows.",
    )
    pressure = TransducerSerializer(required=False, allow_null=True, default=None)
    full_scale_v = serializers.FloatField(required=False, allow_null=True, default=None)
    rate_hz = serializers.FloatField(required=False, allow_null=True, default=None)
    fuel_off = serializers.BooleanField(required=False, allow_null=True, default=None)
    charger_off = serializers.BooleanField(required=False, allow_null=True, default=None)
    throttle = serializers.ChoiceField(
        choices=CaptureSetup.Throttle.choices, required=False, default=""
    )
    temperature = serializers.ChoiceField(
        choices=CaptureSetup.Temperature.choices, required=False, default=""
    )
    battery_v = serializers.FloatField(
        required=False, allow_null=True, default=None, min_value=0, max_value=_MOST_BATTERY_V
    )
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it gives the run of the first time."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "engine" not in attrs and "firing_order" not in attrs:
            raise serializers.ValidationError(
                {"firing_order": _("Say which engine it is: send engine or firing_order.")}
            )
        if kind_of(attrs["signal"]).needs_scale and "mv_per_a" not in attrs:
            raise serializers.ValidationError({"mv_per_a": MISSING})
        if kind_of(attrs["signal"]).shows_one_cylinder and not attrs["pressure"]:
            raise serializers.ValidationError(
                {"pressure": _("Say which cylinder the transducer sat in, and its scale.")}
            )
        if "tdc_angles" in attrs and "firing_order" not in attrs:
            raise serializers.ValidationError(
                {"tdc_angles": _("Angles belong to a firing order; send firing_order with them.")}
            )
        return attrs


class RunSerializer(serializers.ModelSerializer[Run]):
    """One analysis; `result` is the published result once the state is done.

    Its `starter` has figures of starter and battery, each null with its reason in `not_known`.
    `banks` and `bank_difference` hold one bank against the other; both are null where the set-up
    names no banks or the cylinders are not known.
    """

    set_up = serializers.SerializerMethodField()
    result = serializers.SerializerMethodField()

    class Meta:
        model = Run
        fields = [
            "id",
            "capture",
            "state",
            "error",
            "verdict",
            "queued_at",
            "started_at",
            "finished_at",
            "code_version",
            "sha256",
            "set_up",
            "result",
        ]
        read_only_fields = fields

    @extend_schema_field({"type": "object"})
    def get_set_up(self, run: Run) -> dict[str, Any]:
        return dict(run.setup.settings)

    @extend_schema_field({"type": "object", "nullable": True})
    def get_result(self, run: Run) -> dict[str, Any] | None:
        report = run.report
        return None if report is None else published_whole(report)
