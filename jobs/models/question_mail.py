"""E-mails that tell of a question, or of its answer; one row each, so that none goes twice."""

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.models.question import Question
from shopdiag.people.models import InShop, Member
from traces.models import Work


class QuestionMail(InShop, Work):
    """One e-mail; the row is the truth on whether it was sent, as with all that the worker does."""

    class About(models.TextChoices):
        QUESTION = "question", _("question")
        ANSWER = "answer", _("answer")

    shop_path = "question__work_order__shop_id"

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="mails")
    about = models.CharField(max_length=8, choices=About.choices, editable=False)
    to = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+", editable=False)
    """The address is read when it is sent: people change theirs."""
    handed_over_at = models.DateTimeField(null=True, editable=False)
    """Set before the mail server gets it, so that an attempt that dies over it is not repeated."""

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["question", "about"], name="question_mailed_once"),
        ]

    @property
    def why_not(self) -> str:
        """Why it was not sent, in the reader's language; empty where it was or will be."""
        return gettext(self.error) if self.state == self.State.FAILED and self.error else ""
