"""Captures of a visit, verdicts, work orders, findings and outcome for programs."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import generics, serializers, status
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.visits import SavedMeanwhile, visit_or_404
from jobs.api.work_serializers import (
    CaptureUploadSerializer,
    CompleteSerializer,
    FindingSerializer,
    JudgementAskedSerializer,
    JudgementSerializer,
    OrderAskedSerializer,
    OutcomeSerializer,
    UploadOutcomeSerializer,
    WorkOrderSerializer,
)
from jobs.models import CylinderFinding, Visit, WorkOrder
from jobs.selectors.evidence import visit_runs
from jobs.selectors.work import work_orders_seen_by
from jobs.services.evidence import UploadOutcome, judgement_sign, visit_captures_add
from jobs.services.findings import Found, finding_add
from jobs.services.outcome import outcome_change, outcome_fields, outcome_of
from jobs.services.work import (
    OrderWords,
    work_order_accept,
    work_order_complete,
    work_order_create,
)
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.services import SavedMeanwhileError


class VisitCapturesView(APIView):
    """Captures come in as multipart form data."""

    actions = {"POST": Action.CAPTURE}
    parser_classes = [MultiPartParser]

    @extend_schema(
        request={"multipart/form-data": CaptureUploadSerializer},
        responses={201: UploadOutcomeSerializer(many=True)},
    )
    def post(self, request: Request, pk: int) -> Response:
        """Upload captures; 400 when none was taken in, with a sentence for each file."""
        visit = visit_or_404(request, pk)
        asked = CaptureUploadSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        outcomes = visit_captures_add(
            visit=visit,
            member=member_of(request),
            uploads=sent["file"],
            purpose=sent["purpose"],
            label=sent["label"],
            keep_duplicate=sent["keep_duplicate"],
        )
        answer = UploadOutcomeSerializer([_outcome(o) for o in outcomes], many=True).data
        taken = any(o.added for o in outcomes)
        return Response(
            answer, status=status.HTTP_201_CREATED if taken else status.HTTP_400_BAD_REQUEST
        )


def _outcome(outcome: UploadOutcome) -> dict[str, Any]:
    tie = outcome.already or outcome.elsewhere
    return {
        "name": outcome.name,
        "capture": outcome.added.capture_id if outcome.added else None,
        "already": tie.capture_id if tie else None,
        "sentence": outcome.sentence,
    }


class JudgementsView(APIView):
    """Signed verdicts of a visit."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.JUDGE}

    @extend_schema(responses=JudgementSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List what was signed, newest first; the first one stands."""
        signed = visit_or_404(request, pk).judgements.select_related("by__user")
        return Response(JudgementSerializer(signed, many=True).data)

    @extend_schema(request=JudgementAskedSerializer, responses={201: JudgementSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Sign a verdict."""
        visit = visit_or_404(request, pk)
        asked = JudgementAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        data = dict(asked.validated_data)
        run_id = data.pop("run")
        run = get_object_or_404(visit_runs(visit), pk=run_id) if run_id is not None else None
        judgement = judgement_sign(visit=visit, member=member_of(request), run=run, **data)
        return Response(JudgementSerializer(judgement).data, status=status.HTTP_201_CREATED)


class VisitWorkOrdersView(APIView):
    """Work orders are made on a visit, from a signed verdict."""

    actions = {"POST": Action.ORDER_WORK}

    @extend_schema(request=OrderAskedSerializer, responses={201: WorkOrderSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Make the work order; a second time gives the one that is there."""
        visit = visit_or_404(request, pk)
        asked = OrderAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        words = dict(asked.validated_data)
        judgement = get_object_or_404(visit.judgements.all(), pk=words.pop("judgement"))
        order = work_order_create(
            judgement=judgement, member=member_of(request), words=OrderWords(**words)
        )
        return Response(_order(request, order.pk), status=status.HTTP_201_CREATED)


class WorkOrdersView(generics.ListAPIView[WorkOrder]):
    """The shop's work orders, newest first."""

    actions = {"GET": Action.SEE_WORK}
    serializer_class = WorkOrderSerializer
    filterset_fields = ["state"]

    def get_queryset(self) -> QuerySet[WorkOrder]:
        if getattr(self, "swagger_fake_view", False):
            return WorkOrder.objects.none()
        return _orders(self.request)


class WorkOrderView(APIView):
    """One work order."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=WorkOrderSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a work order with its findings."""
        return Response(_order(request, pk))


class WorkOrderAcceptView(APIView):
    """Taking a work order on."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=None, responses=WorkOrderSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Accept; the second one to try is told who has it."""
        order = get_object_or_404(work_orders_seen_by(member_of(request)), pk=pk)
        work_order_accept(order=order, member=member_of(request))
        return Response(_order(request, pk))


class FindingsView(APIView):
    """What was found, one test on one cylinder at a time."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=FindingSerializer, responses={201: FindingSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Record a finding."""
        order = get_object_or_404(work_orders_seen_by(member_of(request)), pk=pk)
        asked = FindingSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        finding = finding_add(
            order=order, member=member_of(request), found=Found(**asked.validated_data)
        )
        return Response(FindingSerializer(finding).data, status=status.HTTP_201_CREATED)


class WorkOrderCompleteView(APIView):
    """Finishing a work order."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=CompleteSerializer, responses=WorkOrderSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Complete; every suspect cylinder needs a finding first."""
        order = get_object_or_404(work_orders_seen_by(member_of(request)), pk=pk)
        asked = CompleteSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        work_order_complete(
            order=order, member=member_of(request), summary=asked.validated_data["summary"]
        )
        return Response(_order(request, pk))


class OutcomeView(APIView):
    """Cause, correction, proof."""

    actions = {"GET": Action.SEE_WORK, "PUT": Action.HAND_BACK}

    @extend_schema(responses=OutcomeSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the outcome; version 1 stands for one that was never saved."""
        return Response(OutcomeSerializer(outcome_of(visit=visit_or_404(request, pk))).data)

    @extend_schema(request=OutcomeSerializer, responses=OutcomeSerializer)
    def put(self, request: Request, pk: int) -> Response:
        """Save the outcome; 409 when somebody saved it after `version` was read."""
        visit = visit_or_404(request, pk)
        member = member_of(request)
        asked = OutcomeSerializer(data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        data = dict(asked.validated_data)
        version = data.pop("version", 1)
        beyond = set(data) - set(outcome_fields(member))
        if beyond:
            raise serializers.ValidationError(
                dict.fromkeys(sorted(beyond), "Your role does not write this; leave it out.")
            )
        _save_outcome(visit, data, version, request)
        return Response(OutcomeSerializer(outcome_of(visit=visit)).data)


def _save_outcome(visit: Visit, data: dict[str, Any], version: int, request: Request) -> None:
    outcome = outcome_of(visit=visit)
    for name, value in data.items():
        setattr(outcome, name, value)
    try:
        outcome_change(
            outcome=outcome,
            expected_version=version,
            member=member_of(request),
            fields=list(data),
        )
    except SavedMeanwhileError as error:
        raise SavedMeanwhile from error


def _orders(request: Request) -> QuerySet[WorkOrder]:
    return work_orders_seen_by(member_of(request)).prefetch_related(
        Prefetch(
            "findings",
            CylinderFinding.objects.filter(replaced_by=None).select_related("by__user"),
        )
    )


def _order(request: Request, pk: int) -> dict[str, Any]:
    order = get_object_or_404(_orders(request), pk=pk)
    return dict(WorkOrderSerializer(order).data)
