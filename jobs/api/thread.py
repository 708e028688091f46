"""What is said and used while a job is worked on, for programs: questions, time and parts."""

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.thread_serializers import (
    AnswerAskedSerializer,
    QuestionAskedSerializer,
    QuestionSerializer,
    UsedAskedSerializer,
    UsedLineSerializer,
)
from jobs.api.visits import visit_or_404
from jobs.models import Question, WorkOrder
from jobs.services.question_mails import question_mail_again
from jobs.services.questions import question_answer, question_ask
from jobs.services.used import WasUsed, used_add, used_take_back
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from traces.models import Work


class QuestionsView(APIView):
    """Questions on a work order, and that its work was stopped."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.DO_WORK}

    @extend_schema(responses=QuestionSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the questions with their answers, oldest first."""
        asked = _order(request, pk).questions.select_related("by__user", "answered_by__user")
        return Response(QuestionSerializer(asked, many=True).data)

    @extend_schema(request=QuestionAskedSerializer, responses={201: QuestionSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Ask whoever ordered the work; `is_stop` says that it stopped and waits for a call."""
        order = _order(request, pk)
        asked = QuestionAskedSerializer.of(request)
        form = asked.form(is_stop=asked.validated_data["is_stop"])
        question = question_ask(
            order=order,
            member=member_of(request),
            text=form.cleaned_data["text"],
            is_stop=form.cleaned_data["is_stop"],
            form_token=form.cleaned_data["form_token"],
            confirmed=is_confirmed(form),
        )
        return Response(QuestionSerializer(question).data, status=status.HTTP_201_CREATED)


class AnswerView(APIView):
    """The answer to one question."""

    actions = {"POST": Action.ORDER_WORK}

    @extend_schema(request=AnswerAskedSerializer, responses=QuestionSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Answer; the second one to answer is told what was said."""
        question = get_object_or_404(
            Question.objects.seen_by(member_of(request)).select_related("work_order"), pk=pk
        )
        form = AnswerAskedSerializer.of(request).form(question=question.pk)
        answered = question_answer(
            question=question, member=member_of(request), text=form.cleaned_data["answer"]
        )
        return Response(QuestionSerializer(answered).data)


class MailAgainView(APIView):
    """Sending again what could not be sent about one question."""

    actions = {"POST": Action.SEE_WORK}

    @extend_schema(request=None, responses=QuestionSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Have those of its e-mails that failed tried again; the writer's own, or as the owner."""
        question = get_object_or_404(Question.objects.seen_by(member_of(request)), pk=pk)
        for mail in question.mails.filter(state=Work.State.FAILED):
            question_mail_again(mail=mail, member=member_of(request))
        return Response(QuestionSerializer(question).data)


class UsedView(APIView):
    """Time and parts used on a visit."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.DO_WORK}

    @extend_schema(responses=UsedLineSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the lines, those that take another back too."""
        lines = visit_or_404(request, pk).used_lines.select_related("by__user")
        return Response(UsedLineSerializer(lines, many=True).data)

    @extend_schema(request=UsedAskedSerializer, responses={201: UsedLineSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Book minutes or an amount, also beyond what is authorised; or take a line back."""
        visit = visit_or_404(request, pk)
        asked, member = UsedAskedSerializer.of(request), member_of(request)
        if (back := asked.validated_data["takes_back"]) is not None:
            line = get_object_or_404(visit.used_lines.all(), pk=back)
            counter = used_take_back(line=line, member=member)
            return Response(UsedLineSerializer(counter).data, status=status.HTTP_201_CREATED)
        number = asked.validated_data["work_order"]
        order = None if number is None else get_object_or_404(visit.work_orders.all(), pk=number)
        form = asked.form(currency=visit.shop.currency)
        used = form.used
        line = used_add(
            visit=visit,
            member=member,
            used=WasUsed(used.minutes, used.amount, used.what, is_confirmed(form)),
            order=order,
            form_token=form.cleaned_data["form_token"],
        )
        return Response(UsedLineSerializer(line).data, status=status.HTTP_201_CREATED)


def _order(request: Request, pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.seen_by(member_of(request)).with_people(), pk=pk)
