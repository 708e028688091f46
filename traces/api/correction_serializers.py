"""What a person says about a file, as programs send it."""

from typing import Any

from rest_framework import serializers

from shopdiag.people.api.serializers import KnownFields
from traces.core.readers import (
    DECIMALS,
    DELIMITERS,
    LONGEST_NAME,
    LONGEST_UNIT,
    MOST_COLUMN,
    MOST_CORRECTED,
    MOST_LINE,
    TIME_UNITS,
    Correction,
    CorrectionError,
)


class ChannelCorrectionSerializer(KnownFields):
    """What is said about one channel; what is left out stays as the file has it."""

    number = serializers.IntegerField(
        min_value=1, max_value=MOST_CORRECTED, help_text="Of the channel in the file, from 1."
    )
    name = serializers.CharField(required=False, max_length=LONGEST_NAME)
    unit = serializers.CharField(
        required=False, allow_blank=True, max_length=LONGEST_UNIT, help_text='"" for none.'
    )
    factor = serializers.FloatField(
        required=False, help_text="0.001 where millivolts are to be volts."
    )
    left_out = serializers.BooleanField(required=False)


class TextCorrectionSerializer(KnownFields):
    """How a delimited text is taken apart; what is left out is found."""

    delimiter = serializers.ChoiceField(choices=list(DELIMITERS), required=False)
    decimal = serializers.ChoiceField(choices=list(DECIMALS), required=False)
    heading_line = serializers.IntegerField(
        required=False,
        min_value=0,
        max_value=MOST_LINE,
        help_text="From 1; 0 where there are none.",
    )
    first_row_line = serializers.IntegerField(required=False, min_value=1, max_value=MOST_LINE)
    time_column = serializers.IntegerField(
        required=False,
        min_value=0,
        max_value=MOST_COLUMN,
        help_text="From 1; 0 where there are no times.",
    )
    time_unit = serializers.ChoiceField(choices=list(TIME_UNITS), required=False)


class CorrectionSerializer(KnownFields):
    """What a file is, where it was understood wrongly; an empty object reads it as it is."""

    rate_hz = serializers.FloatField(required=False)
    start_s = serializers.FloatField(required=False)
    channels = ChannelCorrectionSerializer(many=True, required=False)
    text = TextCorrectionSerializer(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        try:
            attrs["correction"] = Correction.from_json(attrs)
        except CorrectionError as error:
            raise serializers.ValidationError(str(error)) from error
        return attrs
