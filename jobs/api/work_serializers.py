"""What verdicts, work orders and outcomes look like to programs."""

from typing import Any

from rest_framework import serializers

from jobs.models import CylinderFinding, Judgement, Outcome, VisitCapture, WorkOrder


class CaptureUploadSerializer(serializers.Serializer[Any]):
    """One or several files; send the field `file` once for each."""

    file = serializers.ListField(child=serializers.FileField(), allow_empty=False)
    purpose = serializers.ChoiceField(
        choices=VisitCapture.Purpose.choices, default=VisitCapture.Purpose.DIAGNOSIS
    )
    label = serializers.CharField(  # type: ignore[assignment]  # a field of this name is meant
        required=False, default="", allow_blank=True, max_length=120
    )
    keep_duplicate = serializers.BooleanField(required=False, default=False)


class UploadOutcomeSerializer(serializers.Serializer[Any]):
    """What became of one file: the capture's id, or a sentence that says why not."""

    name = serializers.CharField()
    capture = serializers.IntegerField(allow_null=True)
    already = serializers.IntegerField(allow_null=True)
    sentence = serializers.CharField(allow_blank=True)


class JudgementAskedSerializer(serializers.Serializer[Any]):
    """Accept or overrule a run's verdict, or decide without a capture (no run)."""

    run = serializers.IntegerField(required=False, allow_null=True, default=None)
    kind = serializers.ChoiceField(choices=Judgement.Kind.choices)
    mechanical = serializers.ChoiceField(choices=Judgement.Mechanical.choices)
    cylinders = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=16), required=False, default=list
    )
    reason = serializers.CharField(required=False, default="", allow_blank=True, max_length=2000)
    form_token = serializers.UUIDField(required=False, default=None)


class JudgementSerializer(serializers.ModelSerializer[Judgement]):
    """A signed verdict; never changed, only followed by another."""

    by = serializers.CharField(source="by.name")

    class Meta:
        model = Judgement
        fields = ["id", "run", "kind", "mechanical", "cylinders", "reason", "at", "by"]
        read_only_fields = fields


class OrderAskedSerializer(serializers.Serializer[Any]):
    """A work order from a signed verdict; what is left out is drafted from it."""

    judgement = serializers.IntegerField()
    request = serializers.CharField(required=False, max_length=200)
    scope = serializers.CharField(required=False, max_length=1000, allow_blank=True)
    scope_minutes = serializers.IntegerField(required=False, allow_null=True, min_value=0)
    stop_and_call = serializers.CharField(required=False, max_length=300, allow_blank=True)
    tests = serializers.ListField(child=serializers.CharField(), required=False)


class FindingSerializer(serializers.ModelSerializer[CylinderFinding]):
    """One test on one cylinder; pressures in kilopascals."""

    by = serializers.CharField(source="by.name", read_only=True)
    pressure_kpa = serializers.FloatField(required=False, allow_null=True)

    class Meta:
        model = CylinderFinding
        fields = [
            "id",
            "cylinder",
            "test",
            "outcome",
            "pressure_kpa",
            "leak_percent",
            "heard_at",
            "conditions",
            "words",
            "at",
            "by",
        ]
        read_only_fields = ["id", "at", "by"]


class WorkOrderSerializer(serializers.ModelSerializer[WorkOrder]):
    """A work order with everything that its sheet carries."""

    vehicle = serializers.SerializerMethodField()
    findings = FindingSerializer(many=True, read_only=True)
    assigned_to = serializers.CharField(source="assigned_to.name", default=None)

    class Meta:
        model = WorkOrder
        fields = [
            "id",
            "visit",
            "judgement",
            "state",
            "vehicle",
            "request",
            "cylinders",
            "places",
            "firing_order",
            "firing_source",
            "tests_done",
            "tests",
            "cautions",
            "sync_proof",
            "confidence",
            "disproof",
            "scope",
            "scope_minutes",
            "stop_and_call",
            "assigned_to",
            "created_at",
            "accepted_at",
            "completed_at",
            "summary",
            "findings",
        ]
        read_only_fields = fields

    def get_vehicle(self, order: WorkOrder) -> str:
        return str(order.visit.vehicle)


class CompleteSerializer(serializers.Serializer[Any]):
    """What was found, in short."""

    summary = serializers.CharField(required=False, default="", allow_blank=True, max_length=2000)


class OutcomeSerializer(serializers.ModelSerializer[Outcome]):
    """Cause and correction; `version` is the one that was read."""

    version = serializers.IntegerField(min_value=1, default=1)

    class Meta:
        model = Outcome
        fields = ["cause", "correction", "verified", "verified_how", "told_customer", "version"]
