"""What the first look looks like to programs: triage, codes, freeze frames, counts."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from jobs.models import FreezeFrame, MisfireCounts, Triage, TroubleCode
from jobs.services.triage import MAX_TEXT, TRIAGE_FIELDS
from shopdiag.people.api.serializers import ConfirmedField, KnownFields

VERSION_HELP = "The version that was read; 1 where nothing was saved yet."


class TriageSerializer(serializers.ModelSerializer[Triage]):
    """The first look and the first listen."""

    class Meta:
        model = Triage
        fields = [*TRIAGE_FIELDS, "version"]
        read_only_fields = fields


class TriageChangeSerializer(KnownFields, serializers.ModelSerializer[Triage]):
    """What changes in a triage; `version` keeps others' work from being overwritten."""

    version = serializers.IntegerField(min_value=1, default=1, help_text=VERSION_HELP)

    class Meta:
        model = Triage
        fields = [*TRIAGE_FIELDS, "version"]


class CodeSerializer(serializers.ModelSerializer[TroubleCode]):
    """One trouble code in one status."""

    class Meta:
        model = TroubleCode
        fields = ["id", "code", "status", "cylinder", "line", "at"]
        read_only_fields = fields


class CodesPastedSerializer(KnownFields):
    """Text with trouble codes in it, as a scanner or a person wrote it."""

    text = serializers.CharField(max_length=MAX_TEXT, trim_whitespace=False)
    form_token = serializers.UUIDField(
        required=False, write_only=True, help_text="Sent twice, it adds once."
    )


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


class FreezeFrameAskedSerializer(KnownFields):
    """A freeze frame as text, a value on each line."""

    text = serializers.CharField(
        max_length=MAX_TEXT, help_text="A line for each: “Engine speed 1726 rpm”."
    )
    code = serializers.CharField(required=False, allow_blank=True, default="", max_length=10)
    replaces = serializers.IntegerField(
        required=False, allow_null=True, default=None, help_text="The one that this corrects."
    )
    form_token = serializers.UUIDField(
        required=False, write_only=True, help_text="Sent twice, it adds once."
    )


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


class MisfiresAskedSerializer(KnownFields):
    """Misfire counts as text."""

    counts = serializers.CharField(max_length=600, help_text="“1: 0, 2: 143, 3: 2, 4: 0”.")
    period = serializers.CharField(required=False, allow_blank=True, default="", max_length=80)
    replaces = serializers.IntegerField(
        required=False, allow_null=True, default=None, help_text="The one that this corrects."
    )
    form_token = serializers.UUIDField(
        required=False, write_only=True, help_text="Sent twice, it adds once."
    )
    confirmed = ConfirmedField()


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
