"""Sending an e-mail about a question: at most once, whatever breaks on the way."""

import logging
from contextlib import suppress
from smtplib import SMTPException, SMTPServerDisconnected
from uuid import UUID

from django.conf import settings
from django.core.mail import get_connection
from django.db.models.functions import Now
from django.utils.translation import gettext_noop

from jobs.models import QuestionMail
from jobs.selectors.question_mails import message_of
from traces.models import Work
from traces.runs.claims import MOST_ATTEMPTS, claim, fail, finish, heartbeat

logger = logging.getLogger(__name__)

MAIL_TASK = "jobs.mail_question"
"""Name of the task that sends one."""

# Kept in English, and translated where it is read.
NOT_TAKEN = gettext_noop("the mail server could not be reached or refused it. Tell them yourself.")
UNSURE = gettext_noop(
    "the connection broke while it was handed over, so it may have arrived. Tell them yourself."
)
NO_ADDRESS = gettext_noop("there is no address to send it to any more. Tell them yourself.")


def question_mail_send(mail_id: int) -> None:
    """Send one e-mail, if nobody else does.

    What the mail server surely did not take is tried again by the sweep. Where that is unknown,
    because the connection or the worker died over it, it is not: none may come twice.
    """
    token = claim(QuestionMail, mail_id)
    if token is None:
        return
    mail = QuestionMail.objects.select_related(
        "question__work_order__visit__vehicle", "to__user"
    ).get(pk=mail_id)
    if mail.handed_over_at:
        fail(QuestionMail, mail_id, token, error=UNSURE)
    elif not (settings.EMAIL_IS_SET_UP and mail.to.active and mail.to.user.email):
        fail(QuestionMail, mail_id, token, error=NO_ADDRESS)
    else:
        with heartbeat(QuestionMail, mail_id, token):
            _hand_over(mail, token)


def _hand_over(mail: QuestionMail, token: UUID) -> None:
    connection = get_connection()
    owned = QuestionMail.objects.filter(pk=mail.pk, state=Work.State.RUNNING, attempt_token=token)
    try:
        try:
            connection.open()
        except OSError as error:  # SMTP's own errors too
            _again(mail, token, error)
            return
        if not owned.update(handed_over_at=Now()):
            return
        try:
            message_of(mail, connection).send()
        except SMTPServerDisconnected as error:
            _unsure(mail, token, error)
        except SMTPException as error:
            # The server answered, and said no.
            owned.update(handed_over_at=None)
            _again(mail, token, error)
        except OSError as error:
            _unsure(mail, token, error)
        else:
            finish(QuestionMail, mail.pk, token)
    finally:
        with suppress(OSError):
            connection.close()


def _unsure(mail: QuestionMail, token: UUID, error: Exception) -> None:
    logger.warning("e-mail %s may not have arrived: %s", mail.pk, error)
    fail(QuestionMail, mail.pk, token, error=UNSURE)


def _again(mail: QuestionMail, token: UUID, error: Exception) -> None:
    """Leave it to the sweep, which sends what it sent a minute ago once more."""
    logger.warning("e-mail %s was not taken: %s", mail.pk, error)
    if mail.attempts >= MOST_ATTEMPTS:
        fail(QuestionMail, mail.pk, token, error=NOT_TAKEN)
        return
    QuestionMail.objects.filter(pk=mail.pk, state=Work.State.RUNNING, attempt_token=token).update(
        state=Work.State.QUEUED, attempt_token=None, sent_at=Now()
    )
