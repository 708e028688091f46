"""What the first look looks like to programs: triage, codes, freeze frames, counts."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from jobs.api.form_input import FormInput
from jobs.forms.triage import CodesForm, FreezeFrameForm, MisfiresForm, TriageForm
from jobs.models import FreezeFrame, MisfireCounts, Triage, TroubleCode
from jobs.services.triage import TRIAGE_FIELDS


class TriageSerializer(serializers.ModelSerializer[Triage]):
    """The first look and the first listen."""

    class Meta:
        model = Triage
        fields = [*TRIAGE_FIELDS, "version"]
        read_only_fields = fields


class TriageChangeSerializer(FormInput[TriageForm]):
    """What changes in a triage; `version` keeps others' work from being overwritten."""

    form_class = TriageForm


class CodeSerializer(serializers.ModelSerializer[TroubleCode]):
    """One trouble code in one status."""

    class Meta:
        model = TroubleCode
        fields = ["id", "code", "status", "cylinder", "line", "at"]
        read_only_fields = fields


class CodesPastedSerializer(FormInput[CodesForm]):
    """Text with trouble codes in it, as a scanner or a person wrote it."""

    form_class = CodesForm


class NotACodeSerializer(serializers.Serializer[Any]):
    """What looked like a code and is none, with a suggestion."""

    text = serializers.CharField()
    line = serializers.CharField()
    line_no = serializers.IntegerField()
    why = serializers.CharField()
    suggestion = serializers.CharField(allow_blank=True)


class CodesReadSerializer(serializers.Serializer[Any]):
    """All codes on the card after the paste, what was new, and what only looked like a code."""

    codes = CodeSerializer(many=True)
    added = CodeSerializer(many=True)
    not_codes = NotACodeSerializer(many=True)


class FreezeFrameAskedSerializer(FormInput[FreezeFrameForm]):
    """A freeze frame as text, a value on each line."""

    form_class = FreezeFrameForm
    help_texts = {
        "text": "A line for each: “Engine speed 1726 rpm”.",
        "replaces": "The one that this corrects.",
    }


class FrameRowSerializer(serializers.Serializer[Any]):
    """One value as it was read."""

    name = serializers.CharField()
    value = serializers.CharField(allow_blank=True)
    unit = serializers.CharField(allow_blank=True)


class FreezeFrameSerializer(serializers.ModelSerializer[FreezeFrame]):
    """Operating values that the vehicle kept with a code."""

    rows = FrameRowSerializer(many=True, read_only=True)

    class Meta:
        model = FreezeFrame
        fields = ["id", "code", "rows", "replaces", "at"]
        read_only_fields = fields


class MisfiresAskedSerializer(FormInput[MisfiresForm]):
    """Misfire counts as text."""

    form_class = MisfiresForm
    help_texts = {
        "counts": "“1: 0, 2: 143, 3: 2, 4: 0”.",
        "replaces": "The one that this corrects.",
    }


class MisfiresSerializer(serializers.ModelSerializer[MisfireCounts]):
    """One reading of misfire counts, by cylinder number."""

    counts = serializers.SerializerMethodField()

    class Meta:
        model = MisfireCounts
        fields = ["id", "counts", "period", "replaces", "at"]
        read_only_fields = fields

    @extend_schema_field({"type": "object", "additionalProperties": {"type": "integer"}})
    def get_counts(self, reading: MisfireCounts) -> dict[str, int]:
        return dict(reading.counts)
