"""The first look for programs: triage, codes, freeze frames, misfire counts."""

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.triage_serializers import (
    CodeSerializer,
    CodesPastedSerializer,
    CodesReadSerializer,
    FreezeFrameAskedSerializer,
    FreezeFrameSerializer,
    MisfiresAskedSerializer,
    MisfiresSerializer,
    TriageChangeSerializer,
    TriageSerializer,
)
from jobs.api.visits import visit_or_404
from jobs.selectors.captures import engine_sequence
from jobs.services.triage import (
    code_remove,
    codes_add,
    freeze_frame_add,
    misfires_set,
    triage_change,
    triage_of,
)
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action


class TriageView(APIView):
    """How it cranks by ear, battery, complaint verified or not."""

    actions = {"GET": Action.SEE_WORK, "PATCH": Action.TRIAGE}

    @extend_schema(responses=TriageSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read the triage; version 1 stands for one that was never saved."""
        return Response(TriageSerializer(triage_of(visit=visit_or_404(request, pk))).data)

    @extend_schema(request=TriageChangeSerializer, responses=TriageSerializer)
    def patch(self, request: Request, pk: int) -> Response:
        """Change what is sent; 409 when somebody saved it after `version` was read."""
        visit = visit_or_404(request, pk)
        triage = triage_of(visit=visit)
        form = TriageChangeSerializer.of(request).form_on(triage, visit=visit)
        triage_change(
            triage=triage, expected_version=form.expected_version, member=member_of(request)
        )
        return Response(TriageSerializer(triage_of(visit=visit)).data)


class CodesView(APIView):
    """Trouble codes of a visit, pasted as free text."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TRIAGE}

    @extend_schema(responses=CodeSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the codes on the card."""
        return Response(CodeSerializer(visit_or_404(request, pk).codes.all(), many=True).data)

    @extend_schema(request=CodesPastedSerializer, responses={201: CodesReadSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Paste codes; what only looks like a code is pointed out, nothing is swallowed."""
        visit = visit_or_404(request, pk)
        form = CodesPastedSerializer.of(request).form()
        done = codes_add(visit=visit, member=member_of(request), **form.cleaned_data)
        answer = CodesReadSerializer(
            {"codes": visit.codes.all(), "added": done.added, "not_codes": done.paste.not_codes}
        )
        return Response(answer.data, status=status.HTTP_201_CREATED)


class CodeView(APIView):
    """One code on the card."""

    actions = {"DELETE": Action.TRIAGE}

    @extend_schema(responses={204: None})
    def delete(self, request: Request, pk: int, code: int) -> Response:
        """Take a wrongly entered code off the card; the pasted text stays."""
        found = get_object_or_404(visit_or_404(request, pk).codes.select_related("visit"), pk=code)
        code_remove(code=found, member=member_of(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class FreezeFramesView(APIView):
    """Freeze frames of a visit."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TRIAGE}

    @extend_schema(responses=FreezeFrameSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the freeze frames."""
        frames = visit_or_404(request, pk).freeze_frames.all()
        return Response(FreezeFrameSerializer(frames, many=True).data)

    @extend_schema(request=FreezeFrameAskedSerializer, responses={201: FreezeFrameSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Add a freeze frame, or correct one; the same one sent again adds nothing."""
        visit = visit_or_404(request, pk)
        data = FreezeFrameAskedSerializer.of(request).form().cleaned_data
        replaced = data["replaces"]
        frame = freeze_frame_add(
            visit=visit,
            member=member_of(request),
            code=data["code"],
            text=data["text"],
            replaces=get_object_or_404(visit.freeze_frames, pk=replaced) if replaced else None,
            form_token=data["form_token"],
        )
        return Response(FreezeFrameSerializer(frame).data, status=status.HTTP_201_CREATED)


class MisfiresView(APIView):
    """Misfire counts of a visit."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.TRIAGE}

    @extend_schema(responses=MisfiresSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the readings in the order they were taken."""
        readings = visit_or_404(request, pk).misfire_counts.all()
        return Response(MisfiresSerializer(readings, many=True).data)

    @extend_schema(request=MisfiresAskedSerializer, responses={201: MisfiresSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Add a reading, or correct one; the same one sent again adds nothing."""
        visit = visit_or_404(request, pk)
        asked = MisfiresAskedSerializer.of(request)
        form = asked.form(cylinders=engine_sequence(visit, None))
        data = form.cleaned_data
        replaced = data["replaces"]
        reading = misfires_set(
            visit=visit,
            member=member_of(request),
            counts=data["counts"],
            period=data["period"],
            replaces=get_object_or_404(visit.misfire_counts, pk=replaced) if replaced else None,
            form_token=data["form_token"],
            confirmed=is_confirmed(form),
        )
        return Response(MisfiresSerializer(reading).data, status=status.HTTP_201_CREATED)
