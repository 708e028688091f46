"""Reading captures, having them analysed, reading results."""

from dataclasses import replace
from typing import Any, cast

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from engines.core.firing import FiringAngleError, FiringOrder, FiringOrderError
from engines.models import Engine
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member
from traces.api.correction_serializers import CorrectionSerializer
from traces.api.serializers import (
    CaptureSerializer,
    RunAskedSerializer,
    RunSerializer,
)
from traces.core.setup import (
    AnalysisSetup,
    Banks,
    EventToMeasure,
    Flywheel,
    Fuel,
    ManualEdits,
    PressureSetup,
    SetupError,
    SyncSetup,
    ToothWheel,
    banks_from,
)
from traces.core.signal_kinds import kind_of
from traces.models import Capture, Run
from traces.selectors.event_angles import with_kept_angle
from traces.services import Conditions, TokenUsedError, reading_correct, reading_retry, run_add


def _captures(request: Request) -> QuerySet[Capture]:
    return Capture.objects.seen_by(member_of(request))


def _capture(request: Request, pk: int) -> dict[str, Any]:
    captures = (
        _captures(request)
        .select_related("current_reading")
        .prefetch_related(
            # Their numbers only: a result holds every hump and curve of its capture.
            Prefetch("runs", Run.objects.only("capture_id", "queued_at"))
        )
    )
    return dict(CaptureSerializer(get_object_or_404(captures, pk=pk)).data)


class CaptureView(APIView):
    """One capture."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=CaptureSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a capture: its channels are there once `reading.state` is done."""
        return Response(_capture(request, pk))


class ReadAgainView(APIView):
    """Another try at a file."""

    actions = {"POST": Action.CAPTURE}

    @extend_schema(request=None, responses={202: CaptureSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Have the file read again whose reading failed; any other stays as it is."""
        capture = get_object_or_404(_captures(request).select_related("current_reading"), pk=pk)
        reading_retry(reading=capture.reading)
        return Response(_capture(request, pk), status=status.HTTP_202_ACCEPTED)


class CorrectionView(APIView):
    """What a file is, where it was understood wrongly."""

    actions = {"POST": Action.CAPTURE}

    @extend_schema(request=CorrectionSerializer, responses={202: CaptureSerializer})
    def post(self, request: Request, pk: int) -> Response:
        """Have the file read anew as said; the reading of before counts until that is done.

        Later files of the same shape are read the same way.
        """
        capture = get_object_or_404(_captures(request), pk=pk)
        asked = CorrectionSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        reading_correct(
            member=member_of(request),
            capture=capture,
            correction=asked.validated_data["correction"],
        )
        return Response(_capture(request, pk), status=status.HTTP_202_ACCEPTED)


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
        except TokenUsedError as error:
            raise serializers.ValidationError({"form_token": str(error)}) from error
        except SetupError as error:
            raise serializers.ValidationError(str(error)) from error
        return Response(RunSerializer(run).data, status=status.HTTP_202_ACCEPTED)


class RunView(APIView):
    """One analysis."""

    actions = {"GET": Action.SEE_WORK}

    @extend_schema(responses=RunSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Read a run; ask again until its state is done or failed."""
        runs = Run.objects.seen_by(member_of(request)).select_related("setup")
        return Response(RunSerializer(get_object_or_404(runs, pk=pk)).data)


def _order(data: dict[str, Any]) -> FiringOrder:
    """Return the order written out, or the engine's; an engine's own angles outlast a new order."""
    engine: Engine | None = data.get("engine")
    typed: str | None = data.get("firing_order")
    if typed is None and engine is not None:
        return engine.order
    try:
        if engine is not None and "tdc_angles" not in data:
            return engine.order_typed(typed or "")
        return FiringOrder.parse(typed or "", data.get("tdc_angles"))
    except FiringAngleError as error:
        raise serializers.ValidationError({"tdc_angles": str(error)}) from error
    except FiringOrderError as error:
        raise serializers.ValidationError({"firing_order": str(error)}) from error


def _analysis(data: dict[str, Any], member: Member) -> AnalysisSetup:
    engine: Engine | None = data.get("engine")
    order = _order(data)
    return AnalysisSetup(
        firing_order=order,
        current_channel=data["current_channel"],
        # 1 V/A stands for the scale where there is no clamp
        mv_per_a=data.get("mv_per_a", 1000.0),
        sync=_sync(data, member),
        invert=data["invert"],
        fuel=cast("Fuel", data.get("fuel") or (engine.fuel if engine else "petrol")),
        full_scale_v=data["full_scale_v"],
        rate_hz=data["rate_hz"],
        suspect_below=member.shop.suspect_below,
        watch_below=member.shop.watch_below,
        bank_even_within=data["bank_even_within"] or member.shop.bank_even_within,
        signal=data["signal"],
        voltage_channel=data["voltage_channel"],
        wheel=ToothWheel.from_json(data["wheel"] or {}),
        hand=ManualEdits.from_json(data["hand"]),
        measured_event=EventToMeasure(**data["measured_event"]) if data["measured_event"] else None,
        opened_plug=data["opened_plug"],
        flywheel=cast("Flywheel", data["flywheel"]),
        pressure=PressureSetup(**data["pressure"], cylinders=len(order))
        if data["pressure"] and kind_of(data["signal"]).shows_one_cylinder
        else None,
        banks=banks_from(data["banks"]) or _banks_of(engine, order),
    )


def _sync(data: dict[str, Any], member: Member) -> SyncSetup | None:
    if not data["sync"]:
        return None
    sync = SyncSetup(**data["sync"])
    if sync.angle_deg is not None:
        return replace(sync, angle_from="typed")
    return with_kept_angle(member, data.get("engine"), sync)


def _banks_of(engine: Engine | None, order: FiringOrder) -> Banks | None:
    """Return the engine's banks, unless the order written out is another engine's."""
    return engine.banks if engine is not None and len(order) == engine.cylinders else None
