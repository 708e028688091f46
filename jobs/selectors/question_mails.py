"""What an e-mail about a question says: nothing of the customer but what somebody typed."""

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from jobs.models import Question, QuestionMail
from shopdiag.people.core.roles import Action
from shopdiag.people.language import is_language
from shopdiag.people.models import Member


def message_of(mail: QuestionMail, connection: Any = None) -> EmailMessage:  # noqa: ANN401 - a backend
    """Return an e-mail in its reader's language.

    The same row gives the same Message-ID, by which mail programs know a copy (RFC 5322, 3.6.4),
    and nobody's program answers it by itself (RFC 3834).
    """
    user = mail.to.user
    host = urlsplit(settings.SITE_URL).hostname or "localhost"
    # With its time: numbers begin anew in another database, and a known one would be dropped.
    made = f"{mail.about}-{mail.question_id}-{mail.queued_at:%Y%m%d%H%M%S%f}"
    language = user.language if is_language(user.language) else settings.LANGUAGE_CODE
    with translation.override(language):
        return EmailMessage(
            subject=_subject(mail),
            body=_body(mail),
            to=[user.email],
            connection=connection,
            headers={
                "Message-ID": f"<{made}@{host}>",
                "Auto-Submitted": "auto-generated",
            },
        )


def may_send_again(mail: QuestionMail, member: Member) -> bool:
    """Return whether a member may have one sent again: who wrote what it tells, or the owner."""
    question = mail.question
    wrote = question.by_id if mail.about == QuestionMail.About.QUESTION else question.answered_by_id
    return wrote == member.pk or member.may(Action.KEEP_SHOP)


def mails_to_send_again(thread: Iterable[object], member: Member) -> set[int]:
    """Return the numbers of a thread's failed e-mails that a member may send again."""
    asked = [line for line in thread if isinstance(line, Question)]
    return {
        mail.pk
        for question in asked
        for mail in question.mails.all()
        if mail.why_not and may_send_again(mail, member)
    }


def _subject(mail: QuestionMail) -> str:
    visit = mail.question.work_order.visit
    about = {"number": visit.number, "vehicle": visit.vehicle.plate or visit.vehicle}
    if mail.about == QuestionMail.About.ANSWER:
        words = _("Answer: job %(number)s, %(vehicle)s") % about
    elif mail.question.is_stop:
        words = _("Work stopped: job %(number)s, %(vehicle)s") % about
    else:
        words = _("Question: job %(number)s, %(vehicle)s") % about
    # A line break would begin another header.
    return " ".join(words.split())


def _body(mail: QuestionMail) -> str:
    question = mail.question
    link = settings.SITE_URL + reverse("jobs:work-order", args=[question.work_order_id])
    if mail.about == QuestionMail.About.ANSWER:
        said = [_("Your question:"), question.text, _("The answer:"), question.answer]
    elif question.is_stop:
        said = [_("The work was stopped. Call the workshop."), question.text]
    else:
        said = [_("A question about work you ordered:"), question.text]
    return "\n\n".join([*said, _("Open the work order: %(link)s") % {"link": f"{link}#questions"}])
