"""What outcomes look like to programs."""

from rest_framework import serializers

from jobs.api.form_input import FormInput
from jobs.forms.outcome import OutcomeForm
from jobs.models import Outcome
from jobs.services.outcome import FIELDS


class OutcomeSerializer(serializers.ModelSerializer[Outcome]):
    """Cause and correction, and whether the repair was proved."""

    class Meta:
        model = Outcome
        fields = [*FIELDS, "version"]
        read_only_fields = fields


class OutcomeChangeSerializer(FormInput[OutcomeForm]):
    """What changes in an outcome; `version` keeps others' work from being overwritten."""

    form_class = OutcomeForm
