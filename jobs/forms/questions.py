"""Forms of a work order's thread: a question, a stop, an answer."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.services.questions import LONGEST_QUESTION
from shopdiag.people.asking_back import AsksBack


class QuestionForm(AsksBack, forms.Form):
    """A question to whoever ordered the work, or that it was stopped."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    is_stop = forms.BooleanField(widget=forms.HiddenInput, required=False)
    text = forms.CharField(
        label=_("Question"),
        max_length=LONGEST_QUESTION,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Write down what you found and what you need to know.")},
    )

    def __init__(self, data: Any = None, *, is_stop: bool) -> None:  # noqa: ANN401 - Django's
        name = "stop" if is_stop else "ask"
        super().__init__(data, initial={"is_stop": is_stop}, auto_id=f"id_{name}_%s")
        self.is_stopping = is_stop
        if is_stop:
            self.fields["text"].label = gettext("Why you stopped, and what you found")


class AnswerForm(forms.Form):
    """The answer to one question."""

    question = forms.IntegerField(widget=forms.HiddenInput, required=False)
    answer = forms.CharField(
        label=_("Answer"),
        max_length=LONGEST_QUESTION,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": _("Write the answer first.")},
    )

    def __init__(self, data: Any = None, *, question: int) -> None:  # noqa: ANN401 - Django's
        super().__init__(data, initial={"question": question}, auto_id=f"id_answer_{question}_%s")
