"""What visits look like to programs."""

from typing import Any

from rest_framework import serializers

from engines.api.fields import SeenEngineField
from jobs.core.stages import LABELS, moves_from
from jobs.models import Complaint, Customer, Triage, TroubleCode, Vehicle, Visit
from jobs.models.intake import STAGE_CHOICES
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


def member_in(serializer: serializers.Field[Any, Any, Any, Any]) -> Member:
    """Return the member whose request the serializer answers."""
    return member_of(serializer.context["request"])


class CustomerSerializer(serializers.ModelSerializer[Customer]):
    """Who brings the vehicle; only roles that see contacts read it."""

    class Meta:
        model = Customer
        fields = ["id", "name", "phone", "email"]
        read_only_fields = ["id"]


class VehicleSerializer(serializers.ModelSerializer[Vehicle]):
    """One vehicle."""

    engine = SeenEngineField(required=False, allow_null=True)

    class Meta:
        model = Vehicle
        fields = [
            "id",
            "plate",
            "vin",
            "make",
            "model",
            "year",
            "engine",
            "engine_code",
            "drive",
        ]
        read_only_fields = ["id"]


class ComplaintSerializer(serializers.ModelSerializer[Complaint]):
    """The complaint in the customer's words, and what was authorised."""

    class Meta:
        model = Complaint
        fields = [
            "words",
            "happens",
            "happens_note",
            "happened_on",
            "warning_lights",
            "recent_work",
            "authorised_minutes",
            "authorised_amount",
            "authorised_by",
            "authorised_how",
        ]


class TriageSerializer(serializers.ModelSerializer[Triage]):
    """The first look and the first listen."""

    class Meta:
        model = Triage
        fields = ["verified", "cranks", "battery_v", "remarks", "version"]
        read_only_fields = ["version"]


class CodeSerializer(serializers.ModelSerializer[TroubleCode]):
    """One trouble code in one status."""

    class Meta:
        model = TroubleCode
        fields = ["id", "code", "status", "cylinder", "line", "at"]
        read_only_fields = fields


class VisitSerializer(serializers.ModelSerializer[Visit]):
    """A visit in a list; the customer only for roles that see contacts."""

    vehicle = VehicleSerializer(read_only=True)
    customer = serializers.SerializerMethodField()
    stage_label = serializers.SerializerMethodField()

    class Meta:
        model = Visit
        fields = [
            "id",
            "number",
            "stage",
            "stage_label",
            "odometer",
            "opened_at",
            "closed_at",
            "vehicle",
            "customer",
        ]
        read_only_fields = fields

    def get_customer(self, visit: Visit) -> dict[str, Any] | None:
        if not member_in(self).may(Action.SEE_CONTACT):
            return None
        return dict(CustomerSerializer(visit.vehicle.customer).data)

    def get_stage_label(self, visit: Visit) -> str:
        return LABELS[visit.stage_enum]


class VisitCaptureLine(serializers.Serializer[Any]):
    """A capture of a visit, as its card lists it."""

    capture = serializers.IntegerField(source="capture_id")
    purpose = serializers.CharField()
    name = serializers.CharField(source="capture.original_name")


class VisitDetailSerializer(VisitSerializer):
    """A visit with everything its card shows."""

    complaint = ComplaintSerializer(read_only=True)
    triage = TriageSerializer(read_only=True, allow_null=True)
    codes = CodeSerializer(many=True, read_only=True)
    captures = VisitCaptureLine(many=True, read_only=True, source="visit_captures")
    work_orders = serializers.PrimaryKeyRelatedField[Any](many=True, read_only=True)
    moves = serializers.SerializerMethodField()

    class Meta(VisitSerializer.Meta):
        fields = [
            *VisitSerializer.Meta.fields,
            "complaint",
            "triage",
            "codes",
            "captures",
            "work_orders",
            "moves",
        ]
        read_only_fields = fields

    def get_moves(self, visit: Visit) -> list[str]:
        return [stage.value for stage in moves_from(visit.stage_enum)]


class VisitOpenSerializer(serializers.Serializer[Any]):
    """A new visit: ids of a known customer and vehicle, or new ones written out."""

    customer = CustomerSerializer(required=False)
    customer_id = serializers.IntegerField(required=False)
    vehicle = VehicleSerializer(required=False)
    vehicle_id = serializers.IntegerField(required=False)
    complaint = ComplaintSerializer()
    odometer = serializers.IntegerField(required=False, allow_null=True, min_value=0)
    form_token = serializers.UUIDField(
        required=False, help_text="Sent twice, it gives the visit of the first time."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        for name in ("customer", "vehicle"):
            if (name in attrs) == (f"{name}_id" in attrs):
                raise serializers.ValidationError(
                    {name: f"Send either {name} or {name}_id, one of the two."}
                )
        return attrs


class CodesPastedSerializer(serializers.Serializer[Any]):
    """Text with trouble codes in it, as a scanner or a person wrote it."""

    text = serializers.CharField(max_length=20_000, trim_whitespace=False)


class NotACodeSerializer(serializers.Serializer[Any]):
    """What looked like a code and is none, with a suggestion."""

    text = serializers.CharField()
    line = serializers.CharField()
    line_no = serializers.IntegerField()
    why = serializers.CharField()
    suggestion = serializers.CharField(allow_blank=True)


class CodesReadSerializer(serializers.Serializer[Any]):
    """All codes on the card after the paste, what was new, and what only looked like a code."""

    codes = CodeSerializer(many=True)
    added = CodeSerializer(many=True)
    not_codes = NotACodeSerializer(many=True)


class TriageChangeSerializer(serializers.ModelSerializer[Triage]):
    """A triage; `version` is the one that was read, so that nobody's work is overwritten."""

    version = serializers.IntegerField(min_value=1, default=1)

    class Meta:
        model = Triage
        fields = ["verified", "cranks", "battery_v", "remarks", "version"]


class MoveSerializer(serializers.Serializer[Any]):
    """The stage to move to."""

    to = serializers.ChoiceField(choices=STAGE_CHOICES)


class NoteSerializer(serializers.Serializer[Any]):
    """A remark."""

    text = serializers.CharField(max_length=4000)
