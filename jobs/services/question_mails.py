"""Asking for an e-mail about a question; the worker sends it."""

from functools import partial

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models.functions import Now
from django.utils.translation import gettext as _

from jobs.models import Question, QuestionMail
from jobs.selectors.question_mails import may_send_again
from jobs.services.timeline import event_add
from shopdiag.people.models import Member
from traces.models import Work
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


@transaction.atomic
def question_mail_again(*, mail: QuestionMail, member: Member) -> bool:
    """Have an e-mail that was not sent tried again; return whether it had failed.

    One that may have arrived goes too: a person says so, who knows that it may come twice.

    Raises
    ------
    ValidationError
        If it is a colleague's, or there is no address to send it to.
    """
    row = QuestionMail.objects.select_related(
        "to__user", "question__work_order__visit", "question__by", "question__answered_by"
    ).get(pk=mail.pk)
    if not may_send_again(row, member):
        raise ValidationError(
            _("This e-mail is a colleague's; ask them, or the owner, to send it again.")
        )
    if not (settings.EMAIL_IS_SET_UP and row.to.active and row.to.user.email):
        raise ValidationError(
            _("There is no address to send it to. %(name)s enters one under E-mail in the menu.")
            % {"name": row.to.name}
        )
    again = QuestionMail.objects.filter(pk=row.pk, state=Work.State.FAILED).update(
        state=Work.State.QUEUED,
        attempts=0,
        attempt_token=None,
        queued_at=Now(),
        sent_at=None,
        finished_at=None,
        handed_over_at=None,
        error="",
    )
    if again:
        event_add(
            visit=row.question.work_order.visit,
            by=member,
            kind="question",
            words=lambda: _("had the e-mail to %(name)s sent again") % {"name": row.to.name},
            data={"question": row.question_id, "mail": row.pk},
        )
        transaction.on_commit(partial(send, QuestionMail, row.pk), robust=True)
    return bool(again)
