"""Entrance of the worker: takes an e-mail's number, calls one function."""

from celery import shared_task

from jobs.runs.question_mails import MAIL_TASK, question_mail_send
from traces.tasks import HARD_LIMIT_S, SOFT_LIMIT_S


@shared_task(name=MAIL_TASK, soft_time_limit=SOFT_LIMIT_S, time_limit=HARD_LIMIT_S)
def mail_question(mail_id: int) -> None:
    """Send an e-mail about a question or its answer."""
    question_mail_send(mail_id)
