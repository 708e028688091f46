"""What questions, time and parts look like to programs."""

from rest_framework import serializers

from jobs.api.form_input import FormInput
from jobs.forms.questions import AnswerForm, QuestionForm
from jobs.forms.used import UsedForm
from jobs.models import Question, UsedLine

_MOST_ID = 2**63 - 1


class QuestionSerializer(serializers.ModelSerializer[Question]):
    """A question on a work order; open until it is answered."""

    by = serializers.CharField(source="by.name")
    answered_by = serializers.CharField(source="answered_by.name", default=None)

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
        ]
        read_only_fields = fields


class QuestionAskedSerializer(FormInput[QuestionForm]):
    """A question; `is_stop` says that the work stopped and waits for a call."""

    form_class = QuestionForm


class AnswerAskedSerializer(FormInput[AnswerForm]):
    """The answer to a question."""

    form_class = AnswerForm
    left_out = ("question",)


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


class UsedAskedSerializer(FormInput[UsedForm]):
    """What to book; or, with `takes_back`, the line to take back."""

    form_class = UsedForm

    work_order = serializers.IntegerField(
        required=False, default=None, allow_null=True, min_value=1, max_value=_MOST_ID
    )
    takes_back = serializers.IntegerField(
        required=False, default=None, allow_null=True, min_value=1, max_value=_MOST_ID
    )
