"""Limits of tests' figures for programs."""

from typing import Any

from django.core.exceptions import ValidationError as DjangoValidationError
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.exceptions import ValidationError
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from engines.models import Engine
from jobs.core.measured_tests import TEST_KEYS, TESTS, Limit, Origin, typed_test
from jobs.models import WorkOrder
from jobs.selectors.limit_place import LimitPlace, place_of
from jobs.selectors.typed_findings import limits_at
from jobs.services.figure_limits import LONGEST_SOURCE, figure_limits_set
from shopdiag.people.api.serializers import KnownFields
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action

_SCOPES = [scope.value for scope in Origin if scope is not Origin.USUAL]
_VALUE: dict[str, Any] = {"type": "number", "nullable": True}
_LIMITS: dict[str, Any] = {
    "type": "object",
    "additionalProperties": {
        "type": "object",
        "properties": dict.fromkeys(("least", "most", "apart"), _VALUE),
    },
}


@extend_schema_field(_LIMITS)
class LimitsField(serializers.JSONField):
    """Limits by the figure's name, in the unit that it ends with; empty ones take back."""

    def to_internal_value(self, data: Any) -> dict[str, Limit]:  # noqa: ANN401 - any JSON
        if not isinstance(data, dict):
            raise serializers.ValidationError(_("Send the limits as an object, by their figures."))
        return {str(name): self._limit(given) for name, given in data.items()}

    @staticmethod
    def _limit(given: object) -> Limit:
        if not isinstance(given, dict) or not set(given) <= {"least", "most", "apart"}:
            raise serializers.ValidationError(_("A limit has “least”, “most” and “apart” only."))
        for value in given.values():
            is_number = isinstance(value, int | float) and not isinstance(value, bool)
            if value is not None and not (is_number and abs(value) < 1e12):
                raise serializers.ValidationError(_("A limit is a number or null."))
        return Limit(given.get("least"), given.get("most"), given.get("apart"))


class LimitsKeptSerializer(KnownFields):
    """Limits of one test as they are kept with an engine or in the shop."""

    test = serializers.ChoiceField(choices=TEST_KEYS)
    limits = LimitsField()
    source = serializers.CharField(  # type: ignore[assignment]  # a field of this name is meant
        required=False, default="", allow_blank=True, max_length=LONGEST_SOURCE
    )
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it sets once."
    )


class LimitsAskedSerializer(LimitsKeptSerializer):
    """Limits of one test in one scope: `job` is the manufacturer's figure for this job."""

    scope = serializers.ChoiceField(choices=_SCOPES)


class LimitSerializer(serializers.Serializer[Any]):
    """The limit that applies to one figure on this job, and whose it is."""

    test = serializers.CharField()
    figure = serializers.CharField()
    least = serializers.FloatField(allow_null=True)
    most = serializers.FloatField(allow_null=True)
    apart = serializers.FloatField(allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]  # a field of this name is meant
    origin = serializers.ChoiceField(choices=[origin.value for origin in Origin])


_FUEL = OpenApiParameter(
    "fuel", enum=Engine.Fuel.values, default="petrol", description="Of which engines."
)


class FigureLimitsView(APIView):
    """Limits of the figures of tests beyond compression."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.ORDER_WORK}

    @extend_schema(responses=LimitSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the limits that apply to the figures of an order's tests."""
        return Response(_applying(place_of(_order(request, pk))))

    @extend_schema(request=LimitsAskedSerializer, responses=LimitSerializer(many=True))
    def post(self, request: Request, pk: int) -> Response:
        """Set limits of one test; the answer lists what applies now."""
        place = place_of(_order(request, pk))
        asked = LimitsAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        return _set(request, place, Origin(sent.pop("scope")), sent)


class EngineLimitsView(APIView):
    """Limits that the shop keeps with one engine, the library's engines too."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.KEEP_ENGINES}

    @extend_schema(responses=LimitSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List the limits that apply to tests on this engine."""
        return Response(_applying(_engine_place(request, pk)))

    @extend_schema(request=LimitsKeptSerializer, responses=LimitSerializer(many=True))
    def post(self, request: Request, pk: int) -> Response:
        """Set limits of one test on this engine; the answer lists what applies now."""
        return _set(request, _engine_place(request, pk), Origin.ENGINE, _kept(request))


class ShopLimitsView(APIView):
    """Limits that the shop keeps for every engine of a fuel."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.KEEP_SHOP}

    @extend_schema(parameters=[_FUEL], responses=LimitSerializer(many=True))
    def get(self, request: Request) -> Response:
        """List the limits that apply to tests in this shop."""
        return Response(_applying(_shop_place(request)))

    @extend_schema(
        parameters=[_FUEL], request=LimitsKeptSerializer, responses=LimitSerializer(many=True)
    )
    def post(self, request: Request) -> Response:
        """Set limits of one test in this shop; the answer lists what applies now."""
        return _set(request, _shop_place(request), Origin.SHOP, _kept(request))


def _kept(request: Request) -> dict[str, Any]:
    asked = LimitsKeptSerializer(data=request.data)
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)


def _set(request: Request, place: LimitPlace, scope: Origin, sent: dict[str, Any]) -> Response:
    try:
        figure_limits_set(place=place, member=member_of(request), scope=scope, **sent)
    except DjangoValidationError as error:
        told: Any = error.message_dict if hasattr(error, "error_dict") else error.messages
        raise ValidationError(told) from error
    return Response(_applying(place), status=status.HTTP_200_OK)


def _order(request: Request, pk: int) -> WorkOrder:
    orders = WorkOrder.objects.seen_by(member_of(request)).with_people().with_verdict()
    order: WorkOrder = get_object_or_404(orders, pk=pk)
    return order


def _engine_place(request: Request, pk: int) -> LimitPlace:
    member = member_of(request)
    engine: Engine = get_object_or_404(Engine.objects.seen_by(member), pk=pk)
    return LimitPlace(member.shop, engine.fuel, engine=engine)


def _shop_place(request: Request) -> LimitPlace:
    fuel = request.query_params.get("fuel", Engine.Fuel.PETROL.value)
    if fuel not in Engine.Fuel.values:
        raise ValidationError({"fuel": _("Choose petrol or diesel.")})
    return LimitPlace(member_of(request).shop, fuel)


def _applying(place: LimitPlace) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for test in TESTS:
        entry = typed_test(test, place.fuel)
        limits = limits_at(place, entry) if entry else {}
        rows = [
            {
                "test": test,
                "figure": figure,
                "least": limit.least,
                "most": limit.most,
                "apart": limit.apart,
                "source": limit.source,
                "origin": limit.origin.value,
            }
            for figure, limit in limits.items()
        ]
        found += LimitSerializer(rows, many=True).data
    return found
