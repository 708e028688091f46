"""What outcomes look like to programs."""

from rest_framework import serializers

from jobs.api.triage_serializers import VERSION_HELP
from jobs.models import Outcome
from jobs.services.outcome import FIELDS
from shopdiag.people.api.serializers import ConfirmedField, KnownFields


class OutcomeSerializer(serializers.ModelSerializer[Outcome]):
    """Cause and correction, and whether the repair was proved."""

    class Meta:
        model = Outcome
        fields = [*FIELDS, "version"]
        read_only_fields = fields


class OutcomeChangeSerializer(KnownFields, serializers.ModelSerializer[Outcome]):
    """What changes in an outcome; `version` keeps others' work from being overwritten."""

    version = serializers.IntegerField(min_value=1, default=1, help_text=VERSION_HELP)
    confirmed = ConfirmedField()

    class Meta:
        model = Outcome
        fields = [*FIELDS, "version", "confirmed"]
