"""What captures, set-ups and runs look like to programs."""

from typing import Any

from rest_framework import serializers

from engines.api.fields import SeenEngineField
from traces.models import Capture, CaptureSetup, Run


class CaptureSerializer(serializers.ModelSerializer[Capture]):
    """A capture and what its file was understood to be, once it was read."""

    reading = serializers.SerializerMethodField()
    runs = serializers.SerializerMethodField()

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
            "runs",
        ]
        read_only_fields = fields

    def get_reading(self, capture: Capture) -> dict[str, Any]:
        reading = capture.reading
        return {
            "state": reading.state,
            "error": reading.error,
            "understood": reading.understood or None,
        }

    def get_runs(self, capture: Capture) -> list[int]:
        return [run.pk for run in capture.runs.all()]


class SyncSerializer(serializers.Serializer[Any]):
    """What marks which cylinder, and how often."""

    channel = serializers.CharField(max_length=120)
    cylinder = serializers.IntegerField(min_value=1, max_value=16)
    event = serializers.ChoiceField(choices=["ignition", "injector", "cam"], default="ignition")
    every_deg = serializers.ChoiceField(choices=[720, 360], default=720)


class RunAskedSerializer(serializers.Serializer[Any]):
    """How to analyse a capture; an engine's id, or firing order and angles written out."""

    engine = SeenEngineField(required=False)
    firing_order = serializers.CharField(required=False, max_length=60)
    tdc_angles = serializers.ListField(child=serializers.FloatField(), required=False)
    fuel = serializers.ChoiceField(choices=["petrol", "diesel"], required=False)
    current_channel = serializers.CharField(max_length=120)
    mv_per_a = serializers.FloatField()
    invert = serializers.BooleanField(required=False, allow_null=True, default=None)
    sync = SyncSerializer(required=False, allow_null=True, default=None)
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
    battery_v = serializers.FloatField(required=False, allow_null=True, default=None)
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it gives the run of the first time."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("engine" in attrs) == ("firing_order" in attrs):
            raise serializers.ValidationError("Send either engine or firing_order, one of the two.")
        return attrs


class RunSerializer(serializers.ModelSerializer[Run]):
    """One analysis; `result` is the published result once the state is done."""

    set_up = serializers.SerializerMethodField()

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

    def get_set_up(self, run: Run) -> dict[str, Any]:
        return dict(run.setup.settings)
