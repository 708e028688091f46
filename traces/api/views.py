"""Reading captures, having them analysed, reading results."""

from typing import Any, cast

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from engines.core.firing import FiringOrder, FiringOrderError
from engines.models import Engine
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from traces.api.serializers import CaptureSerializer, RunAskedSerializer, RunSerializer
from traces.core.setup import AnalysisSetup, Fuel, SetupError, SyncSetup
from traces.models import Capture, Run
from traces.services import Conditions, run_add


def _captures(request: Request) -> QuerySet[Capture]:
    return Capture.objects.seen_by(member_of(request))


class CaptureView(APIView):
    """One capture."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=CaptureSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a capture: its channels are there once `reading.state` is done."""
        capture = get_object_or_404(
            _captures(request).select_related("reading").prefetch_related("runs"), pk=pk
        )
        return Response(CaptureSerializer(capture).data)


class CaptureRunsView(APIView):
    """Analyses of one capture."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.CAPTURE}

    @extend_schema(responses=RunSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the runs, newest first."""
        capture = get_object_or_404(_captures(request), pk=pk)
        return Response(RunSerializer(capture.runs.select_related("setup"), many=True).data)

    @extend_schema(request=RunAskedSerializer, responses={202: RunSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Queue an analysis; another set-up adds a run and keeps the old ones."""
        capture = get_object_or_404(_captures(request), pk=pk)
        asked = RunAskedSerializer(data=request.data, context={"request": request})
        asked.is_valid(raise_exception=True)
        data = asked.validated_data
        member = member_of(request)
        try:
            run = run_add(
                member=member,
                capture=capture,
                analysis=_analysis(data, member),
                engine=data.get("engine"),
                conditions=Conditions(
                    fuel_off=data["fuel_off"],
                    charger_off=data["charger_off"],
                    throttle=data["throttle"],
                    temperature=data["temperature"],
                    battery_v=data["battery_v"],
                ),
                form_token=data["form_token"],
            )
        except (SetupError, FiringOrderError) as error:
            raise serializers.ValidationError(str(error)) from error
        return Response(RunSerializer(run).data, status=status.HTTP_202_ACCEPTED)


class RunView(APIView):
    """One analysis."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=RunSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a run; ask again until its state is done or failed."""
        runs = Run.objects.filter(capture__in=_captures(request)).select_related("setup")
        return Response(RunSerializer(get_object_or_404(runs, pk=pk)).data)


def _analysis(data: dict[str, Any], member: Member) -> AnalysisSetup:
    engine: Engine | None = data.get("engine")
    order = (
        engine.order if engine else FiringOrder.parse(data["firing_order"], data.get("tdc_angles"))
    )
    return AnalysisSetup(
        firing_order=order,
        current_channel=data["current_channel"],
        mv_per_a=data["mv_per_a"],
        sync=SyncSetup(**data["sync"]) if data["sync"] else None,
        invert=data["invert"],
        fuel=cast("Fuel", data.get("fuel") or (engine.fuel if engine else "petrol")),
        full_scale_v=data["full_scale_v"],
        rate_hz=data["rate_hz"],
        suspect_below=member.shop.suspect_below,
        watch_below=member.shop.watch_below,
    )
