"""What questions, time and parts look like to programs."""

from rest_framework import serializers

from jobs.models import Question, UsedLine
from jobs.services.questions import LONGEST_QUESTION
from shopdiag.people.api.serializers import ConfirmedField, KnownFields

_MOST_ID = 2**63 - 1


class QuestionSerializer(KnownFields, serializers.ModelSerializer[Question]):
    """A question on a work order; open until it is answered."""

    by = serializers.CharField(source="by.name", read_only=True)
    answered_by = serializers.CharField(source="answered_by.name", default=None, read_only=True)
    form_token = serializers.UUIDField(required=False, write_only=True)
    confirmed = ConfirmedField(write_only=True)

    class Meta:
        model = Question
        fields = [
            "id",
            "text",
            "is_stop",
            "at",
            "by",
            "answer",
            "answered_at",
            "answered_by",
            "form_token",
            "confirmed",
        ]
        read_only_fields = ["id", "at", "by", "answer", "answered_at", "answered_by"]


class AnswerAskedSerializer(KnownFields):
    """The answer to a question."""

    answer = serializers.CharField(max_length=LONGEST_QUESTION)


class UsedLineSerializer(serializers.ModelSerializer[UsedLine]):
    """Minutes worked, or parts and other costs; a line that takes another back names it."""

    by = serializers.CharField(source="by.name")

    class Meta:
        model = UsedLine
        fields = [
            "id",
            "work_order",
            "is_repair",
            "minutes",
            "amount",
            "what",
            "takes_back",
            "at",
            "by",
        ]
        read_only_fields = fields


class UsedAskedSerializer(KnownFields):
    """What to book; or, with `takes_back`, the line to take back."""

    minutes = serializers.IntegerField(required=False, default=None, allow_null=True)
    amount = serializers.FloatField(required=False, default=None, allow_null=True)
    what = serializers.CharField(required=False, default="", allow_blank=True)
    work_order = serializers.IntegerField(
        required=False, default=None, allow_null=True, min_value=1, max_value=_MOST_ID
    )
    takes_back = serializers.IntegerField(
        required=False, default=None, allow_null=True, min_value=1, max_value=_MOST_ID
    )
    form_token = serializers.UUIDField(required=False, default=None, allow_null=True)
    confirmed = ConfirmedField()
