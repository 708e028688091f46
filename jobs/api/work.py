"""Work orders and findings for programs."""

from typing import Any

from django.core.exceptions import ValidationError as DjangoValidationError
from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import generics, status
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.checking import check
from jobs.api.visits import visit_or_404
from jobs.api.work_serializers import (
    CompleteSerializer,
    FindingAskedSerializer,
    FindingSerializer,
    OrderAskedSerializer,
    SwapAskedSerializer,
    SwapSerializer,
    WithdrawSerializer,
    WorkOrderSerializer,
)
from jobs.forms.work import WorkOrderForm
from jobs.models import CylinderFinding, Judgement, WorkOrder
from jobs.selectors.consents import order_made
from jobs.selectors.order_draft import order_draft
from jobs.selectors.work import mechanics_of
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.swaps import swap_add
from jobs.services.work import OrderWords, work_order_accept, work_order_create, work_order_withdraw
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action

# The page asks in the shop's unit and so under another name.
_API_NAMES = {"pressure": "pressure_kpa", "first_puff": "first_puff_kpa"}


class VisitWorkOrdersView(APIView):
    """Work orders are made on a visit, from a signed verdict."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.ORDER_WORK}

    @extend_schema(responses=WorkOrderSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the visit's work orders, newest first."""
        orders = _orders(request).filter(visit=visit_or_404(request, pk))
        return Response(WorkOrderSerializer(orders, many=True).data)

    @extend_schema(request=OrderAskedSerializer, responses={201: WorkOrderSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Make the work order; a second time gives the one that is there.

        Once the customer agreed to the repair of what was found, it is that of the repair.
        """
        visit = visit_or_404(request, pk)
        asked = OrderAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        judgement = get_object_or_404(
            visit.judgements.select_related("visit__vehicle", "run"), pk=sent.pop("judgement")
        )
        words = None if order_made(judgement) else _words(judgement, sent)
        order = work_order_create(judgement=judgement, member=member_of(request), words=words)
        return Response(_order(request, order.pk), status=status.HTTP_201_CREATED)


def _words(judgement: Judgement, sent: dict[str, Any]) -> OrderWords:
    """Return what the page's form makes of what was sent on top of the draft."""
    offer: dict[str, Any] = {
        "draft": order_draft(judgement),
        "judgement_id": judgement.pk,
        "mechanics": mechanics_of(judgement.visit),
    }
    form = WorkOrderForm({**WorkOrderForm(**offer).initial, **sent}, **offer)
    check(form)
    return form.words


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
        work_order_accept(order=_order_or_404(request, pk), member=member_of(request))
        return Response(_order(request, pk))


class FindingsView(APIView):
    """What was found, one test on one cylinder at a time."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=FindingAskedSerializer, responses={201: FindingSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Record a finding, or correct one by a line that takes its place."""
        order = _order_or_404(request, pk)
        asked = FindingAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        token, replaced = sent.pop("form_token"), sent.pop("replaces")
        try:
            finding = finding_add(
                order=order,
                member=member_of(request),
                found=NewFinding(**sent),
                replaces=None
                if replaced is None
                else get_object_or_404(order.findings.all(), pk=replaced),
                form_token=token,
            )
        except DjangoValidationError as error:
            raise ValidationError(_in_our_names(error)) from error
        return Response(FindingSerializer(finding).data, status=status.HTTP_201_CREATED)


class SwapsView(APIView):
    """Swap tests of a work order."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=SwapAskedSerializer, responses={201: SwapSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Record which part moved where, and whether the misfire followed."""
        order = _order_or_404(request, pk)
        form = SwapAskedSerializer.of(request).form(order=order)
        swap = swap_add(
            order=order,
            member=member_of(request),
            swapped=form.swapped,
            form_token=form.cleaned_data["form_token"],
        )
        return Response(SwapSerializer(swap).data, status=status.HTTP_201_CREATED)


def _in_our_names(error: DjangoValidationError) -> Any:  # noqa: ANN401 - sentences, by field or not
    if not hasattr(error, "error_dict"):
        return error.messages
    return {_API_NAMES.get(name, name): told for name, told in error.message_dict.items()}


class WorkOrderCompleteView(APIView):
    """Finishing a work order."""

    actions = {"POST": Action.DO_WORK}

    @extend_schema(request=CompleteSerializer, responses=WorkOrderSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Complete; every suspect cylinder needs a finding first."""
        order = _order_or_404(request, pk)
        said = CompleteSerializer.of(request).validated_data
        work_order_complete(order=order, member=member_of(request), **said)
        return Response(_order(request, pk))


class WorkOrderWithdrawView(APIView):
    """Taking an unfinished work order back."""

    actions = {"POST": Action.ORDER_WORK}

    @extend_schema(request=WithdrawSerializer, responses=WorkOrderSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Withdraw, with a reason."""
        order = _order_or_404(request, pk)
        form = WithdrawSerializer.of(request).form()
        work_order_withdraw(
            order=order, member=member_of(request), reason=form.cleaned_data["reason"]
        )
        return Response(_order(request, pk))


def _orders(request: Request) -> QuerySet[WorkOrder]:
    return (
        WorkOrder.objects.seen_by(member_of(request))
        .with_people()
        .select_related("judgement")
        .prefetch_related(
            "visit__numbering_checks",
            "visit__judgements__by__user",
            "swaps__by__user",
            Prefetch(
                "findings",
                CylinderFinding.objects.filter(replaced_by=None).select_related("by__user"),
            ),
        )
    )


def _order_or_404(request: Request, pk: int) -> WorkOrder:
    return get_object_or_404(WorkOrder.objects.seen_by(member_of(request)).with_people(), pk=pk)


def _order(request: Request, pk: int) -> dict[str, Any]:
    return dict(WorkOrderSerializer(get_object_or_404(_orders(request), pk=pk)).data)
