"""Captures of a visit and the verdicts signed about them, for programs."""

from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import status
from rest_framework.exceptions import ValidationError
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.meaning_serializers import SuggestsSerializer
from jobs.api.serializers import VisitCaptureSerializer
from jobs.api.together_serializers import (
    AsideSerializer,
    PressurePairSerializer,
    PurposeSerializer,
    RunningPairSerializer,
    TogetherPairSerializer,
)
from jobs.api.visits import visit_or_404
from jobs.api.work_serializers import (
    CaptureUploadSerializer,
    JudgementAskedSerializer,
    JudgementSerializer,
    UploadOutcomeSerializer,
)
from jobs.models import VisitCapture
from jobs.selectors.captures import capture_rows, cranked_runs
from jobs.selectors.decision import decision_on
from jobs.selectors.in_cylinder import cylinders_in_turn, in_turn_json
from jobs.selectors.pooled_captures import together_json, together_of
from jobs.selectors.running import beside_json, running_beside
from jobs.services.captures import (
    UploadOutcome,
    capture_aside,
    capture_purpose_set,
    visit_captures_add,
)
from jobs.services.judgements import judgement_sign
from shopdiag.people.asking_back import is_confirmed
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from traces.selectors.uploads import NotWholeError, whole_uploads
from traces.uploads.files import WholeUpload


class VisitCapturesView(APIView):
    """Captures of a visit; they come in as multipart form data."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.CAPTURE}
    parser_classes = [MultiPartParser]

    @extend_schema(responses=VisitCaptureSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the visit's captures in the order they came."""
        ties = visit_or_404(request, pk).visit_captures.select_related("capture")
        return Response(VisitCaptureSerializer(ties, many=True).data)

    @extend_schema(
        request={"multipart/form-data": CaptureUploadSerializer},
        responses={
            200: UploadOutcomeSerializer(many=True),
            201: UploadOutcomeSerializer(many=True),
        },
    )
    def post(self, request: Request, pk: int) -> Response:
        """Upload captures: 201 when any is new, 200 when all that are good were here already.

        A bad file does not stop the others; when none was good, 400 says why for each.
        """
        visit = visit_or_404(request, pk)
        asked = CaptureUploadSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        outcomes = visit_captures_add(
            visit=visit,
            member=member_of(request),
            uploads=[*sent["file"], *_arrived(request, sent["arrived"])],
            purpose=sent["purpose"],
            label=sent["label"],
            keep_duplicate=sent["keep_duplicate"],
        )
        if not any(one.added or one.already for one in outcomes):
            raise ValidationError({"file": [one.sentence for one in outcomes]})
        return Response(
            UploadOutcomeSerializer([_outcome(one) for one in outcomes], many=True).data,
            status=status.HTTP_201_CREATED
            if any(one.added for one in outcomes)
            else status.HTTP_200_OK,
        )


def _arrived(request: Request, tokens: list[UUID]) -> list[WholeUpload]:
    try:
        return whole_uploads(member_of(request), tokens)
    except NotWholeError as missing:
        raise ValidationError({"arrived": [str(missing)]}) from missing


def _outcome(outcome: UploadOutcome) -> dict[str, Any]:
    here = outcome.added or outcome.already
    return {
        "name": outcome.name,
        "capture": here.capture_id if here else None,
        "added": outcome.added is not None,
        "elsewhere": outcome.elsewhere.capture_id if outcome.elsewhere else None,
        "sentence": outcome.sentence,
    }


class TogetherView(APIView):
    """Captures of a visit compared and pooled, before and after the repair."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=TogetherPairSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read what the captures say together; null where fewer than two can be compared."""
        visit = visit_or_404(request, pk)
        rows = capture_rows(visit)
        return Response(
            {
                purpose.value: together_json(together_of(visit, rows, purpose))
                for purpose in VisitCapture.CRANKED
            }
        )


class RunningView(APIView):
    """The idling engine beside the cranked one."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=RunningPairSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read what each cylinder adds at idle beside its compression, and what both amount to."""
        visit = visit_or_404(request, pk)
        rows = capture_rows(visit)
        return Response(
            {
                "before": beside_json(running_beside(visit, rows)),
                "after": beside_json(running_beside(visit, rows, after_repair=True)),
            }
        )


class PressuresView(APIView):
    """Pressures in the cylinders, measured in turn."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=PressurePairSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read which cylinders leak or fill less, in what order, and how sure that is."""
        visit = visit_or_404(request, pk)
        rows = capture_rows(visit)
        return Response(
            {
                "before": in_turn_json(cylinders_in_turn(visit, rows)),
                "after": in_turn_json(cylinders_in_turn(visit, rows, after_repair=True)),
            }
        )


class SuggestsView(APIView):
    """What a run suggests in the light of its visit."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=SuggestsSerializer)
    def get(self, request: Request, pk: int, run: int) -> Response:
        """Read which of the sets that fit the misfires point at, and what the pattern suggests."""
        visit = visit_or_404(request, pk)
        decision = decision_on(visit, get_object_or_404(cranked_runs(visit), pk=run))
        patterns = [card.to_json() for card in decision.patterns]
        return Response(
            SuggestsSerializer({"ranking": decision.ranking, "patterns": patterns}).data
        )


class CaptureAsideView(APIView):
    """Setting a capture aside, so that it does not count beside the others."""

    actions = {"POST": Action.JUDGE}

    @extend_schema(request=AsideSerializer, responses=VisitCaptureSerializer)
    def post(self, request: Request, pk: int, capture: int) -> Response:
        """Set it aside with a reason; an empty reason takes it in again."""
        tie = get_object_or_404(visit_or_404(request, pk).visit_captures, capture_id=capture)
        asked = AsideSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        done = capture_aside(tie=tie, member=member_of(request), **asked.validated_data)
        return Response(VisitCaptureSerializer(done).data)


class CapturePurposeView(APIView):
    """Whether a capture was made for the diagnosis or after the repair."""

    actions = {"POST": Action.JUDGE}

    @extend_schema(request=PurposeSerializer, responses=VisitCaptureSerializer)
    def post(self, request: Request, pk: int, capture: int) -> Response:
        """Say which it is; saying the other later takes it back."""
        tie = get_object_or_404(visit_or_404(request, pk).visit_captures, capture_id=capture)
        form = PurposeSerializer.of(request).form()
        done = capture_purpose_set(
            tie=tie,
            member=member_of(request),
            purpose=form.cleaned_data["purpose"],
            reason=form.cleaned_data["reason"],
            confirmed=is_confirmed(form),
        )
        return Response(VisitCaptureSerializer(done).data)


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
        run = get_object_or_404(cranked_runs(visit), pk=run_id) if run_id is not None else None
        judgement = judgement_sign(visit=visit, member=member_of(request), run=run, **data)
        return Response(JudgementSerializer(judgement).data, status=status.HTTP_201_CREATED)
