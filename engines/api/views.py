"""The engine library, the shop's own engines, and how long their plugs take to reach."""

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework import generics, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from engines.core.access import MOST_MINUTES
from engines.models import BankAccess, Engine
from engines.selectors import access_by_bank
from engines.services import access_keep
from shopdiag.people.api.serializers import ConfirmedField, KnownFields
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


class EngineSerializer(serializers.ModelSerializer[Engine]):
    """One engine; `tdc_angles` is null where the firings are evenly spaced."""

    class Meta:
        model = Engine
        fields = [
            "id",
            "name",
            "layout",
            "cylinders",
            "firing_order",
            "tdc_angles",
            "fuel",
            "coils",
            "injection",
            "source",
        ]
        read_only_fields = fields


class EnginesView(generics.ListAPIView[Engine]):
    """Engines that may be named in a visit or a set-up."""

    actions = {"GET": Action.SEE_WORK}
    serializer_class = EngineSerializer
    filterset_fields = ["layout", "cylinders", "firing_order", "fuel"]

    def get_queryset(self) -> QuerySet[Engine]:
        if getattr(self, "swagger_fake_view", False):
            return Engine.objects.none()
        return Engine.objects.seen_by(member_of(self.request)).in_use()


class BankMinutesSerializer(KnownFields):
    """Minutes to reach the plugs of one bank; `bank` is empty on an engine with one row.

    A bank's letter may be small or capital.
    """

    bank = serializers.CharField(required=False, default="", allow_blank=True, max_length=2)
    minutes = serializers.IntegerField(min_value=0, max_value=MOST_MINUTES)

    def validate_bank(self, bank: str) -> str:
        return bank.upper()


class AccessAskedSerializer(KnownFields):
    """How long plugs take to reach, from a closed bonnet until they can be taken out."""

    banks = BankMinutesSerializer(many=True, allow_empty=False)
    note = serializers.CharField(
        required=False,
        default=None,
        allow_null=True,
        allow_blank=True,
        max_length=200,
        help_text="What is in the way. Left out, what stands is kept; empty, it is removed.",
    )
    form_token = serializers.UUIDField(
        required=False, default=None, help_text="Sent twice, it keeps once."
    )
    confirmed = ConfirmedField()

    def validate_banks(self, banks: list[dict[str, Any]]) -> list[dict[str, Any]]:
        named = [row["bank"] for row in banks]
        if len(set(named)) < len(named):
            raise serializers.ValidationError(_("Send each bank once."))
        return banks


class AccessSerializer(serializers.ModelSerializer[BankAccess]):
    """What the shop keeps of one bank; the newest figure."""

    by = serializers.CharField(source="created_by.name")
    at = serializers.DateTimeField(source="created_at")

    class Meta:
        model = BankAccess
        fields = ["bank", "minutes", "note", "at", "by"]
        read_only_fields = fields


class AccessView(APIView):
    """How long the shop takes to reach the plugs of an engine, by bank."""

    actions = {"GET": Action.SEE_WORK, "POST": Action.KEEP_ENGINES}

    @extend_schema(responses=AccessSerializer(many=True))
    def get(self, request: Request, pk: int) -> Response:
        """List what is kept; a bank that nobody timed is left out."""
        return Response(_access(member_of(request), _engine(request, pk)))

    @extend_schema(request=AccessAskedSerializer, responses=AccessSerializer(many=True))
    def post(self, request: Request, pk: int) -> Response:
        """Keep minutes, of the library's engines too; the next work order counts with them."""
        member, engine = member_of(request), _engine(request, pk)
        asked = AccessAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        access_keep(
            member=member,
            engine=engine,
            minutes={row["bank"]: row["minutes"] for row in sent["banks"]},
            note=sent["note"],
            form_token=sent["form_token"],
            confirmed=sent["confirmed"],
        )
        return Response(_access(member, engine))


def _engine(request: Request, pk: int) -> Engine:
    return get_object_or_404(Engine.objects.seen_by(member_of(request)), pk=pk)


def _access(member: Member, engine: Engine) -> Any:  # noqa: ANN401 - what a serializer gives
    kept = access_by_bank(member.shop, engine)
    return AccessSerializer([kept[bank] for bank in sorted(kept)], many=True).data
