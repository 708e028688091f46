"""What verdicts and work orders look like to programs."""

from typing import Any

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from engines.core.firing import MOST_CYLINDERS
from jobs.api.form_input import FormInput
from jobs.api.meaning_serializers import PatternSerializer
from jobs.core.groups import GROUP_LABELS, FaultGroup
from jobs.core.request import LONGEST_REQUEST
from jobs.forms.evidence import MOST_FILES, PURPOSES
from jobs.forms.swap import SwapForm
from jobs.forms.work import CompleteForm, WithdrawForm
from jobs.models import CylinderFinding, Judgement, SwapTest, VisitCapture, WorkOrder
from jobs.selectors.work import superseded_by
from shopdiag.people.api.serializers import ConfirmedField, KnownFields

_CYLINDERS: dict[str, Any] = {
    "type": "array",
    "items": {"type": "integer", "minimum": 1, "maximum": MOST_CYLINDERS},
}
_SENTENCES: dict[str, Any] = {"type": "array", "items": {"type": "string"}}


class CaptureUploadSerializer(KnownFields):
    """One or several files; send the field `file` once for each.

    Instead of a large file send `arrived` with the token of its upload (tus).
    """

    # An empty file is the service's to refuse: it says what to do and keeps the others.
    file = serializers.ListField(
        child=serializers.FileField(allow_empty_file=True),
        required=False,
        default=list,
        max_length=MOST_FILES,
    )
    arrived = serializers.ListField(
        child=serializers.UUIDField(), required=False, default=list, max_length=MOST_FILES
    )
    purpose = serializers.ChoiceField(choices=PURPOSES, default=VisitCapture.Purpose.DIAGNOSIS)
    label = serializers.CharField(  # type: ignore[assignment]  # a field of this name is meant
        required=False, default="", allow_blank=True, max_length=120
    )
    keep_duplicate = serializers.BooleanField(
        required=False,
        default=False,
        help_text="Take a file in although another visit has the same content.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        count = len(attrs["file"]) + len(attrs["arrived"])
        if not 1 <= count <= MOST_FILES:
            raise serializers.ValidationError(
                {
                    "file": _("Send at least one file and at most %(most_files)s at once.")
                    % {"most_files": MOST_FILES}
                }
            )
        return attrs


class UploadOutcomeSerializer(serializers.Serializer[Any]):
    """What became of one file.

    `capture` is its capture on this visit, `added` says whether it is new; where it was not
    taken in, `sentence` says why, and `elsewhere` is another visit's capture of the same content.
    """

    name = serializers.CharField()
    capture = serializers.IntegerField(allow_null=True)
    added = serializers.BooleanField()
    elsewhere = serializers.IntegerField(allow_null=True)
    sentence = serializers.CharField(allow_blank=True)


class JudgementAskedSerializer(KnownFields):
    """Accept or overrule a run's verdict, or decide without a capture (no run)."""

    run = serializers.IntegerField(required=False, allow_null=True, default=None)
    kind = serializers.ChoiceField(choices=Judgement.Kind.choices)
    mechanical = serializers.ChoiceField(choices=Judgement.Mechanical.choices)
    fault_group = serializers.ChoiceField(
        choices=[(g.value, GROUP_LABELS[g]) for g in FaultGroup],
        required=False,
        default="",
        allow_blank=True,
        help_text="Where the fault lies when no compression fault was found.",
    )
    cylinders = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS),
        required=False,
        default=list,
        max_length=MOST_CYLINDERS,
    )
    reason = serializers.CharField(required=False, default="", allow_blank=True, max_length=2000)
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it signs once."
    )
    confirmed = ConfirmedField()


@extend_schema_field(_CYLINDERS)
class CylindersField(serializers.JSONField):
    """Cylinder numbers as they were signed or ordered."""


@extend_schema_field(_SENTENCES)
class SentencesField(serializers.JSONField):
    """Sentences as they stood."""


class JudgementSerializer(serializers.ModelSerializer[Judgement]):
    """A signed verdict; never changed, only followed by another."""

    cylinders = CylindersField(read_only=True)
    by = serializers.CharField(source="by.name")

    class Meta:
        model = Judgement
        fields = [
            "id",
            "run",
            "kind",
            "mechanical",
            "fault_group",
            "cylinders",
            "reason",
            "at",
            "by",
        ]
        read_only_fields = fields


class OrderAskedSerializer(KnownFields):
    """A work order from a signed verdict; what is left out is drafted from it."""

    judgement = serializers.IntegerField()
    request = serializers.CharField(required=False, max_length=LONGEST_REQUEST)
    scope = serializers.CharField(required=False, max_length=1000, allow_blank=True)
    scope_minutes = serializers.IntegerField(required=False, allow_null=True)
    stop_and_call = serializers.CharField(required=False, max_length=300, allow_blank=True)
    tests = serializers.ListField(
        child=serializers.CharField(max_length=60),
        required=False,
        max_length=50,
        help_text="Keys of the drafted tests that are wanted.",
    )
    confirmed = ConfirmedField()


_FIGURES: dict[str, Any] = {
    "type": "object",
    "nullable": True,
    "additionalProperties": {"oneOf": [{"type": "number"}, {"type": "string"}]},
}


@extend_schema_field(_FIGURES)
class FiguresField(serializers.JSONField):
    """Figures of a test by name, each in the unit that its name ends with; a choice by its key."""

    def to_internal_value(self, data: Any) -> dict[str, object]:  # noqa: ANN401 - any JSON
        if data is None:
            return {}
        if not isinstance(data, dict):
            raise serializers.ValidationError(_("Send the figures as an object, by their names."))
        return dict(data)


class FindingAskedSerializer(KnownFields, serializers.ModelSerializer[CylinderFinding]):
    """One test on one cylinder, or on the whole engine without one; pressures in kilopascals.

    `first_puff_kpa` is what the gauge shows after the first compression, `pressure_kpa` after the
    last. `figures` are those of a test beyond compression; fuel trims are of a `bank`.
    """

    cylinder = serializers.IntegerField(
        min_value=1, max_value=MOST_CYLINDERS, required=False, allow_null=True, default=None
    )
    first_puff_kpa = serializers.FloatField(required=False, allow_null=True)
    pressure_kpa = serializers.FloatField(required=False, allow_null=True)
    bank = serializers.IntegerField(
        min_value=1, max_value=2, required=False, allow_null=True, default=None
    )
    figures = FiguresField(required=False, default=dict)
    replaces = serializers.IntegerField(
        required=False, default=None, help_text="The finding that this one corrects."
    )
    confirmed = ConfirmedField()
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it records once."
    )

    class Meta:
        model = CylinderFinding
        fields = [
            "cylinder",
            "bank",
            "test",
            "outcome",
            "first_puff_kpa",
            "pressure_kpa",
            "leak_percent",
            "supply_kpa",
            "orifice_mm",
            "at_tdc",
            "is_warm",
            "oil_ml",
            "swept_ml",
            "idle_kpa",
            "snap_kpa",
            "figures",
            "heard_at",
            "conditions",
            "words",
            "replaces",
            "confirmed",
            "form_token",
        ]


class FindingSerializer(serializers.ModelSerializer[CylinderFinding]):
    """One test on one cylinder, bank or engine as it stands; pressures in kilopascals."""

    figures = FiguresField(read_only=True)
    by = serializers.CharField(source="by.name")

    class Meta:
        model = CylinderFinding
        fields = [
            "id",
            "cylinder",
            "bank",
            "test",
            "outcome",
            "first_puff_kpa",
            "pressure_kpa",
            "leak_percent",
            "supply_kpa",
            "orifice_mm",
            "at_tdc",
            "is_warm",
            "oil_ml",
            "swept_ml",
            "idle_kpa",
            "snap_kpa",
            "figures",
            "heard_at",
            "conditions",
            "words",
            "replaces",
            "at",
            "by",
        ]
        read_only_fields = fields


_COUNTS: dict[str, Any] = {"type": "object", "additionalProperties": {"type": "integer"}}


@extend_schema_field(_COUNTS)
class StoredCountsField(serializers.JSONField):
    """Misfires by cylinder number."""


class SwapAskedSerializer(FormInput[SwapForm]):
    """A swap test: a part moved to another cylinder, and the misfire followed it or stayed."""

    form_class = SwapForm
    help_texts = {"counts_before": "1: 0, 2: 143"}

    # Which cylinders there are hangs on the order.
    from_cylinder = serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS)
    to_cylinder = serializers.IntegerField(min_value=1, max_value=MOST_CYLINDERS)


class SwapSerializer(serializers.ModelSerializer[SwapTest]):
    """A swap test as it was recorded; `reading` says what it means."""

    counts_before = StoredCountsField(read_only=True)
    counts_after = StoredCountsField(read_only=True)
    reading = serializers.CharField(read_only=True)
    by = serializers.CharField(source="by.name")

    class Meta:
        model = SwapTest
        fields = [
            "id",
            "part",
            "from_cylinder",
            "to_cylinder",
            "followed",
            "counts_before",
            "counts_after",
            "words",
            "reading",
            "at",
            "by",
        ]
        read_only_fields = fields


class PlaceSerializer(serializers.Serializer[Any]):
    """Where a suspect cylinder sits."""

    cylinder = serializers.IntegerField()
    words = serializers.CharField()


class TestWantedSerializer(serializers.Serializer[Any]):
    """A test wanted, in its turn."""

    key = serializers.CharField()
    words = serializers.CharField()
    why = serializers.CharField()


class WorkOrderSerializer(serializers.ModelSerializer[WorkOrder]):
    """A work order with everything that its sheet carries."""

    vehicle = serializers.SerializerMethodField()
    cylinders = CylindersField(read_only=True)
    places = PlaceSerializer(many=True, read_only=True)
    tests = TestWantedSerializer(many=True, read_only=True)
    tests_done = SentencesField(read_only=True)
    patterns = PatternSerializer(many=True, read_only=True)
    cautions = SentencesField(read_only=True)
    findings = FindingSerializer(many=True, read_only=True)
    swaps = SwapSerializer(many=True, read_only=True)
    assigned_to = serializers.CharField(source="assigned_to.name", default=None)
    numbering_confirmed = serializers.SerializerMethodField()
    superseded = serializers.SerializerMethodField(
        help_text="What a later verdict says otherwise, while the order is open; empty for nothing."
    )

    class Meta:
        model = WorkOrder
        fields = [
            "id",
            "visit",
            "judgement",
            "superseded",
            "state",
            "vehicle",
            "request",
            "cylinders",
            "places",
            "numbering_confirmed",
            "firing_order",
            "firing_source",
            "tests_done",
            "tests",
            "patterns",
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
            "withdrawn_why",
            "summary",
            "left_out",
            "findings",
            "swaps",
        ]
        read_only_fields = fields

    def get_vehicle(self, order: WorkOrder) -> str:
        return str(order.visit.vehicle)

    def get_superseded(self, order: WorkOrder) -> str:
        return superseded_by(order, next(iter(order.visit.judgements.all()), None))

    def get_numbering_confirmed(self, order: WorkOrder) -> bool:
        return bool(order.visit.numbering_checks.all())


class CompleteSerializer(FormInput[CompleteForm]):
    """What was found, in short; `left_out` where wanted tests have no finding."""

    form_class = CompleteForm
    help_texts = {"left_out": "Why wanted tests were left out; needed where some have no finding."}


class WithdrawSerializer(FormInput[WithdrawForm]):
    """Why an order is taken back."""

    form_class = WithdrawForm
