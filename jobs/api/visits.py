"""Visits, stage moves, notes and timeline for programs."""

from typing import Any
from uuid import uuid4

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import generics, status
from rest_framework.exceptions import PermissionDenied, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.checking import plain, sentences
from jobs.api.filters import VisitFilter
from jobs.api.serializers import (
    ConsentSerializer,
    MoveSerializer,
    NoteAskedSerializer,
    NoteSerializer,
    NumberingAskedSerializer,
    NumberingSerializer,
    TimelineSerializer,
    VisitChangeSerializer,
    VisitDetailSerializer,
    VisitOpenSerializer,
    VisitSerializer,
)
from jobs.core.stages import Stage
from jobs.forms.new_job import IntakeForm
from jobs.models import Customer, TimelineEvent, Vehicle, Visit, VisitCapture
from jobs.selectors.job_card import may_move_to
from jobs.services.comebacks import NO_SUCH_EARLIER
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.intake import visit_change, visit_open
from jobs.services.notes import note_add
from jobs.services.numbering import SeenOnVehicle, numbering_confirm
from jobs.services.visits import visit_move
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.authentication import IsMember, member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


def visit_or_404(request: Request, pk: int) -> Visit:
    """Return a visit of the member's shop."""
    return get_object_or_404(
        Visit.objects.seen_by(member_of(request)).with_vehicle().select_related("shop"), pk=pk
    )


class VisitsView(generics.ListAPIView[Visit]):
    """The shop's visits, newest first; closed ones only for roles that search. Or a new one."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TAKE_IN}
    serializer_class = VisitSerializer
    filterset_class = VisitFilter

    def get_queryset(self) -> QuerySet[Visit]:
        if getattr(self, "swagger_fake_view", False):
            return Visit.objects.none()
        member = member_of(self.request)
        seen = Visit.objects.seen_by(member).with_vehicle()
        return seen if member.may(Action.SEARCH) else seen.exclude(stage=Stage.CLOSED)

    @extend_schema(request=VisitOpenSerializer, responses={201: VisitDetailSerializer})
    def post(self, request: Request) -> Response:
        """Take a vehicle in."""
        asked = VisitOpenSerializer(data=request.data, context={"request": request})
        asked.is_valid(raise_exception=True)
        visit = _opened(member_of(request), asked.validated_data)
        return Response(visit_detail(request, visit.pk), status=status.HTTP_201_CREATED)


def _opened(member: Member, sent: dict[str, Any]) -> Visit:
    """Open a visit by the intake page's own form, so that both know the same rules."""
    vehicle, customer = _on_file(member, sent)
    token = sent.get("form_token") or uuid4()
    form = IntakeForm(
        {
            "form_token": token,
            "another": sent["another"],
            "confirmed": sent["confirmed"],
            "visit-odometer": sent.get("odometer"),
            "visit-comeback_of": sent.get("comeback_of"),
            **plain(sent.get("customer", {}), "customer"),
            **plain({"drive": Vehicle.Drive.STARTER, **sent.get("vehicle", {})}, "vehicle"),
            **plain(sent["complaint"], "complaint"),
        },
        member=member,
        vehicle=vehicle,
        customer=customer,
    )
    if sent.get("comeback_of") and "comeback_of" not in form.visit.fields:
        raise ValidationError({"comeback_of": [_(NO_SUCH_EARLIER)]})
    if not form.is_valid():
        raise ValidationError(_intake_errors(form))
    return visit_open(
        member=member,
        customer=customer or form.typed_customer,
        vehicle=vehicle or form.typed_vehicle,
        complaint=form.typed_complaint,
        odometer=form.visit.cleaned_data["odometer"],
        comeback_of=form.visit.cleaned_data.get("comeback_of"),
        form_token=token,
        confirmed=is_confirmed(form.who),
    )


def _on_file(member: Member, sent: dict[str, Any]) -> tuple[Vehicle | None, Customer | None]:
    vehicle = customer = None
    if "vehicle_id" in sent:
        vehicles = Vehicle.objects.seen_by(member).with_customer()
        vehicle = vehicles.filter(pk=sent["vehicle_id"]).first()
        if vehicle is None:
            raise ValidationError(
                {"vehicle_id": [_("This vehicle is not on file; check its number.")]}
            )
        if "customer" not in sent:
            customer = vehicle.customer
    if "customer_id" in sent:
        customer = Customer.objects.seen_by(member).filter(pk=sent["customer_id"]).first()
        if customer is None:
            raise ValidationError(
                {"customer_id": [_("This customer is not on file; check the number.")]}
            )
    return vehicle, customer


def _intake_errors(form: IntakeForm) -> dict[str, Any]:
    """Return the page's sentences under the names that the API gives its parts."""
    parts = {"customer": form.customer, "vehicle": form.vehicle, "complaint": form.complaint}
    errors: dict[str, Any] = {
        name: sentences(part) for name, part in parts.items() if part is not None and part.errors
    }
    errors |= sentences(form.visit)
    if form.alike:
        numbers = ", ".join(str(vehicle.pk) for vehicle in form.alike)
        errors["vehicle"] = [
            _(
                "A vehicle with this plate or VIN is on file (number %(numbers)s): send "
                "vehicle_id instead, or “another” as true."
            )
            % {"numbers": numbers}
        ]
    elif form.who.errors:
        errors |= sentences(form.who)
    return errors


class VisitView(APIView):
    """One visit with what its card shows."""

    actions = {"GET": Action.SEE_WORK, "PATCH": Action.TAKE_IN}

    @extend_schema(responses=VisitDetailSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a visit."""
        return Response(visit_detail(request, pk))

    @extend_schema(request=VisitChangeSerializer, responses=VisitDetailSerializer)
    def patch(self, request: Request, pk: int) -> Response:
        """Change odometer or what it comes back for; 409 when it was saved after `version`."""
        visit, member = visit_or_404(request, pk), member_of(request)
        asked = VisitChangeSerializer.of(request)
        form = asked.form_on(visit, member=member, vehicle=visit.vehicle)
        if asked.validated_data.get("comeback_of") and "comeback_of" not in form.fields:
            raise ValidationError({"comeback_of": [_(NO_SUCH_EARLIER)]})
        visit_change(
            visit=visit,
            expected_version=form.expected_version,
            member=member,
            confirmed=is_confirmed(form),
        )
        return Response(visit_detail(request, pk))


class MoveView(APIView):
    """Moving a visit to another stage; each stage asks for its own role."""

    actions = {"POST": Action.SEE_WORK}

    @extend_schema(request=MoveSerializer, responses=VisitDetailSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Move the visit, or say what has to be done first."""
        visit, member = visit_or_404(request, pk), member_of(request)
        asked = MoveSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        to = Stage(asked.validated_data["to"])
        if not may_move_to(member, to):
            raise PermissionDenied(IsMember.message)
        sent = asked.validated_data
        visit_move(
            visit=visit,
            to=to,
            member=member,
            reason=sent.get("reason", ""),
            confirmed=sent["confirmed"],
        )
        return Response(visit_detail(request, pk))


class NotesView(APIView):
    """Notes of a visit."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.ADD_NOTE}

    @extend_schema(responses=NoteSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the notes in the order they were written."""
        notes = visit_or_404(request, pk).notes.select_related("by__user")
        return Response(NoteSerializer(notes, many=True).data)

    @extend_schema(request=NoteAskedSerializer, responses={201: NoteSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Add a note; notes are never edited."""
        visit = visit_or_404(request, pk)
        said = NoteAskedSerializer.of(request).form().cleaned_data
        note = note_add(visit=visit, member=member_of(request), **said)
        return Response(NoteSerializer(note).data, status=status.HTTP_201_CREATED)


class NumberingView(APIView):
    """Who confirmed the cylinder numbering on the vehicle, and from what."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.DO_WORK}

    @extend_schema(responses=NumberingSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the confirmations of this visit; the first one stands."""
        checks = visit_or_404(request, pk).numbering_checks.select_related("by__user")
        return Response(NumberingSerializer(checks, many=True).data)

    @extend_schema(request=NumberingAskedSerializer, responses={201: NumberingSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Confirm the numbering, and how the engine sits in the vehicle."""
        visit = visit_or_404(request, pk)
        data = dict(NumberingAskedSerializer.of(request).form(has_banks=True).cleaned_data)
        token = data.pop("form_token")
        confirmed = numbering_confirm(
            visit=visit, member=member_of(request), seen=SeenOnVehicle(**data), form_token=token
        )
        return Response(NumberingSerializer(confirmed).data, status=status.HTTP_201_CREATED)


class ConsentsView(APIView):
    """What the customer said about the repair."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TAKE_IN}

    @extend_schema(responses=ConsentSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the answers, newest first."""
        said = visit_or_404(request, pk).repair_consents.select_related("by__user")
        return Response(ConsentSerializer(said, many=True).data)

    @extend_schema(request=ConsentSerializer, responses={201: ConsentSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Note a yes or a no; a yes takes the job on to the repair."""
        visit = visit_or_404(request, pk)
        asked = ConsentSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        token = sent.pop("form_token", None)
        noted = consent_add(
            visit=visit, member=member_of(request), said=SaidOnRepair(**sent), form_token=token
        )
        return Response(ConsentSerializer(noted).data, status=status.HTTP_201_CREATED)


class TimelineView(generics.ListAPIView[TimelineEvent]):
    """Who did what to a visit, newest first; lines are added and never changed."""

    actions = {"GET": Action.SEE_WORK}
    serializer_class = TimelineSerializer

    def get_queryset(self) -> QuerySet[TimelineEvent]:
        if getattr(self, "swagger_fake_view", False):
            return TimelineEvent.objects.none()
        visit = visit_or_404(self.request, self.kwargs["pk"])
        return visit.events.select_related("by__user").order_by("-pk")


def visit_detail(request: Request, pk: int) -> dict[str, Any]:
    """Return a visit of the member's shop as its card shows it."""
    visit = get_object_or_404(
        Visit.objects.seen_by(member_of(request))
        .with_vehicle()
        .select_related("complaint", "triage")
        .prefetch_related(
            "codes",
            "work_orders",
            Prefetch("visit_captures", VisitCapture.objects.select_related("capture")),
        ),
        pk=pk,
    )
    return dict(VisitDetailSerializer(visit, context={"request": request}).data)
