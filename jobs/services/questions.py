"""Questions on a work order: asked at the engine, answered by whoever orders the work."""

from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Question, QuestionMail, Visit, WorkOrder
from jobs.services.question_mails import question_mail_queue
from jobs.services.timeline import event_add
from jobs.services.visits import check_open
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from shopdiag.people.typed_text import check_length

LONGEST_QUESTION = 1000


@transaction.atomic
def question_ask(
    *,
    order: WorkOrder,
    member: Member,
    text: str,
    is_stop: bool = False,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> Question:
    """Ask whoever orders the work; the same `form_token` sent twice gives the first question.

    Parameters
    ----------
    is_stop
        Whether the work was stopped until somebody calls.

    Raises
    ------
    ValidationError
        If nothing is said, or the order or its job is finished.
    """
    text = text.strip()
    if not text:
        raise ValidationError({"text": _("Write down what you found and what you need to know.")})
    check_length("text", text, LONGEST_QUESTION)
    visit = Visit.objects.select_for_update(no_key=True).get(pk=order.visit_id)
    if form_token:
        sent_before = Question.objects.filter(work_order=order, form_token=form_token).first()
        if sent_before:
            return sent_before
    check_open(visit)
    state = WorkOrder.objects.values_list("state", flat=True).get(pk=order.pk)
    if state not in WorkOrder.OPEN_STATES:
        raise ValidationError(_("This work order is finished; add a note to the job instead."))
    said = {"text": text, "is_stop": is_stop}
    mine = order.questions.filter(by=member, answered_at=None)
    ask_back(confirmed, already_there(mine, **said) if form_token else (), about=said)
    question = Question(
        work_order=order, text=text, is_stop=is_stop, by=member, form_token=form_token
    )
    question.full_clean()
    question.save()
    event_add(
        visit=visit,
        by=member,
        kind="question",
        words=lambda: (
            (_("stopped and waits for a call: %(text)s") if is_stop else _("asked: %(text)s"))
            % {"text": text}
        ),
        data={"work_order": order.pk, "question": question.pk},
    )
    question_mail_queue(question=question, about=QuestionMail.About.QUESTION)
    return question


@transaction.atomic
def question_answer(*, question: Question, member: Member, text: str) -> Question:
    """Answer a question; the same answer twice changes nothing.

    Raises
    ------
    ValidationError
        If nothing is said, or somebody answered otherwise meanwhile.
    """
    text = text.strip()
    if not text:
        raise ValidationError({"answer": _("Write the answer first.")})
    check_length("answer", text, LONGEST_QUESTION)
    visit = Visit.objects.select_for_update(no_key=True).get(pk=question.work_order.visit_id)
    current = Question.objects.select_related("answered_by__user").get(pk=question.pk)
    if current.answered_by:
        if current.answered_by_id == member.pk and current.answer == text:
            return current
        raise ValidationError(
            _("%(name)s answered meanwhile: %(answer)s")
            % {"name": current.answered_by.name, "answer": current.answer}
        )
    check_open(visit)
    current.answer, current.answered_by, current.answered_at = text, member, timezone.now()
    current.save(update_fields=["answer", "answered_by", "answered_at"])
    event_add(
        visit=visit,
        by=member,
        kind="question",
        words=lambda: _("answered: %(text)s") % {"text": text},
        data={"work_order": current.work_order_id, "question": current.pk},
    )
    question_mail_queue(question=current, about=QuestionMail.About.ANSWER)
    return current
