"""Asking from a work order, and answering there."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from jobs.forms.questions import AnswerForm, QuestionForm
from jobs.models import QuestionMail, WorkOrder
from jobs.services.question_mails import question_mail_again
from jobs.services.questions import question_answer, question_ask
from jobs.views.rows_by_address import order_seen
from jobs.views.work import order_page
from shopdiag.people.access import MemberRequest, requires
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.core.roles import Action
from shopdiag.people.core.row_ids import is_row_id
from shopdiag.people.editing import post_form


def _thread(order: WorkOrder) -> str:
    return reverse("jobs:work-order", args=[order.pk]) + "#questions"


@requires(Action.DO_WORK)
@require_POST
def ask(request: MemberRequest, order_id: int) -> HttpResponse:
    """Ask whoever ordered the work, or say that it was stopped."""
    order = order_seen(request.member, order_id)
    form = QuestionForm(request.POST, is_stop=request.POST.get("is_stop") == "True")
    return post_form(
        request,
        form=form,
        save=lambda: question_ask(
            order=order,
            member=request.member,
            text=form.cleaned_data["text"],
            is_stop=form.is_stopping,
            form_token=form.cleaned_data["form_token"],
            confirmed=is_confirmed(form),
        ),
        page=lambda status: order_page(request, order, question_form=form, status=status),
        done=_thread(order),
        saved=gettext("Asked. The job and the board are marked until it is answered."),
    )


@requires(Action.ORDER_WORK)
@require_POST
def answer(request: MemberRequest, order_id: int) -> HttpResponse:
    """Answer a question of a work order."""
    order = order_seen(request.member, order_id)
    asked = request.POST.get("question", "")
    question = get_object_or_404(order.questions, pk=asked if is_row_id(asked) else 0)
    form = AnswerForm(request.POST, question=question.pk)
    return post_form(
        request,
        form=form,
        save=lambda: question_answer(
            question=question, member=request.member, text=form.cleaned_data["answer"]
        ),
        page=lambda status: order_page(request, order, answer_form=form, status=status),
        done=_thread(order),
        saved=gettext("Answered."),
    )


@requires(Action.DO_WORK, Action.ORDER_WORK)
@require_POST
def mail_again(request: MemberRequest, order_id: int) -> HttpResponse:
    """Have an e-mail about a question sent again that was not sent."""
    order = order_seen(request.member, order_id)
    asked = request.POST.get("mail", "")
    mails = QuestionMail.objects.filter(question__work_order=order)
    mail = get_object_or_404(mails, pk=asked if is_row_id(asked) else 0)
    try:
        had_failed = question_mail_again(mail=mail, member=request.member)
    except ValidationError as refused:
        for sentence in refused.messages:
            messages.error(request, sentence)
    else:
        if had_failed:
            messages.success(request, gettext("The e-mail is sent again."))
        else:
            messages.info(request, gettext("The e-mail is on its way already, or was sent."))
    return redirect(_thread(order))
