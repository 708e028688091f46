"""Asking for an e-mail about a question; the worker sends it."""

from functools import partial

from django.conf import settings
from django.db import transaction

from jobs.models import Question, QuestionMail
from traces.runs.sending import send
from traces.selectors.clock import database_now


def question_mail_queue(*, question: Question, about: QuestionMail.About) -> None:
    """Have an e-mail sent once the change is committed; nothing here can refuse the change.

    A question goes to whoever ordered, an answer to whoever asked. Nobody is written to about
    what they said themselves, nor who left or gave no address.
    """
    to, said_by = question.by, question.answered_by
    if about == QuestionMail.About.QUESTION:
        to, said_by = question.work_order.created_by, question.by
    if not settings.EMAIL_IS_SET_UP or to == said_by or not to.active or not to.user.email:
        return
    mail, made = QuestionMail.objects.get_or_create(
        question=question, about=about, defaults={"to": to, "queued_at": database_now()}
    )
    if made:
        transaction.on_commit(partial(send, QuestionMail, mail.pk), robust=True)
