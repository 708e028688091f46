"""Visits, codes, triage, stage moves and notes for programs."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import generics, status
from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.filters import VisitFilter
from jobs.api.serializers import (
    CodesPastedSerializer,
    CodesReadSerializer,
    MoveSerializer,
    NoteSerializer,
    TriageChangeSerializer,
    TriageSerializer,
    VisitDetailSerializer,
    VisitOpenSerializer,
    VisitSerializer,
)
from jobs.core.stages import Stage
from jobs.models import Complaint, Customer, Vehicle, Visit, VisitCapture
from jobs.selectors.visits import visits_seen_by
from jobs.services.intake import visit_open
from jobs.services.notes import note_add
from jobs.services.triage import TRIAGE_FIELDS, codes_add, triage_change, triage_of
from jobs.services.visits import visit_move
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.services import SavedMeanwhileError


class SavedMeanwhile(APIException):
    """Somebody else saved the record after the caller read it."""

    status_code = status.HTTP_409_CONFLICT
    default_detail = "Somebody else saved this meanwhile; read it again and send your change anew."
    default_code = "saved_meanwhile"


def visit_or_404(request: Request, pk: int) -> Visit:
    """Return a visit of the member's shop."""
    return get_object_or_404(visits_seen_by(member_of(request)), pk=pk)


class VisitsView(generics.ListAPIView[Visit]):
    """The shop's visits, newest first; or a new one."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TAKE_IN}
    serializer_class = VisitSerializer
    filterset_class = VisitFilter

    def get_queryset(self) -> QuerySet[Visit]:
        if getattr(self, "swagger_fake_view", False):
            return Visit.objects.none()
        return visits_seen_by(member_of(self.request))

    @extend_schema(request=VisitOpenSerializer, responses={201: VisitDetailSerializer})
    def post(self, request: Request) -> Response:
        """Take a vehicle in."""
        member = member_of(request)
        asked = VisitOpenSerializer(data=request.data, context={"request": request})
        asked.is_valid(raise_exception=True)
        data = asked.validated_data
        customer = (
            get_object_or_404(Customer.objects.seen_by(member), pk=data["customer_id"])
            if "customer_id" in data
            else Customer(**data["customer"])
        )
        vehicle = (
            get_object_or_404(Vehicle.objects.seen_by(member), pk=data["vehicle_id"])
            if "vehicle_id" in data
            else Vehicle(**data["vehicle"])
        )
        visit = visit_open(
            member=member,
            customer=customer,
            vehicle=vehicle,
            complaint=Complaint(**data["complaint"]),
            odometer=data.get("odometer"),
            form_token=data.get("form_token"),
        )
        return Response(_detail(request, visit.pk), status=status.HTTP_201_CREATED)


class VisitView(APIView):
    """One visit with what its card shows."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=VisitDetailSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a visit."""
        return Response(_detail(request, pk))


class CodesView(APIView):
    """Trouble codes of a visit, pasted as free text."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TRIAGE}

    @extend_schema(responses=VisitDetailSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the visit with its codes."""
        return Response(_detail(request, pk))

    @extend_schema(request=CodesPastedSerializer, responses={201: CodesReadSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Paste codes; what only looks like a code is pointed out, nothing is swallowed."""
        visit = visit_or_404(request, pk)
        asked = CodesPastedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        done = codes_add(visit=visit, text=asked.validated_data["text"], member=member_of(request))
        answer = CodesReadSerializer(
            {
                "codes": visit.codes.all(),
                "added": done.added,
                "not_codes": done.paste.not_codes,
            }
        )
        return Response(answer.data, status=status.HTTP_201_CREATED)


class TriageView(APIView):
    """How it cranks by ear, battery, complaint verified or not."""

    actions = {"GET": Action.SEE_WORK, "PUT": Action.TRIAGE}

    @extend_schema(responses=TriageSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the triage; version 1 stands for one that was never saved."""
        return Response(TriageSerializer(triage_of(visit=visit_or_404(request, pk))).data)

    @extend_schema(request=TriageChangeSerializer, responses=TriageSerializer)
    def put(self, request: Request, pk: int) -> Response:
        """Save the triage; 409 when somebody saved it after `version` was read."""
        visit = visit_or_404(request, pk)
        triage = triage_of(visit=visit)
        asked = TriageChangeSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        for name in TRIAGE_FIELDS:
            if name in asked.validated_data:
                setattr(triage, name, asked.validated_data[name])
        try:
            triage_change(
                triage=triage,
                expected_version=asked.validated_data["version"],
                member=member_of(request),
            )
        except SavedMeanwhileError as error:
            raise SavedMeanwhile from error
        return Response(TriageSerializer(triage_of(visit=visit)).data)


class MoveView(APIView):
    """Moving a visit to another stage; each stage asks for its own role."""

    actions = {"POST": Action.SEE_WORK}

    @extend_schema(request=MoveSerializer, responses=VisitDetailSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Move the visit, or say what has to be done first."""
        visit = visit_or_404(request, pk)
        asked = MoveSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        visit_move(visit=visit, to=Stage(asked.validated_data["to"]), member=member_of(request))
        return Response(_detail(request, pk))


class NotesView(APIView):
    """Notes of a visit."""

    actions = {"POST": Action.ADD_NOTE}

    @extend_schema(request=NoteSerializer, responses={201: NoteSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Add a note; notes are never edited."""
        asked = NoteSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        note = note_add(
            visit=visit_or_404(request, pk),
            text=asked.validated_data["text"],
            member=member_of(request),
        )
        return Response({"text": note.text}, status=status.HTTP_201_CREATED)


def _detail(request: Request, pk: int) -> dict[str, Any]:
    visit = get_object_or_404(
        visits_seen_by(member_of(request))
        .select_related("complaint", "triage")
        .prefetch_related(
            "codes",
            "work_orders",
            Prefetch("visit_captures", VisitCapture.objects.select_related("capture")),
        ),
        pk=pk,
    )
    data: dict[str, Any] = VisitDetailSerializer(visit, context={"request": request}).data
    if not hasattr(visit, "triage"):
        data["triage"] = None
    return data
