"""What visits look like to programs."""

from typing import Any, ClassVar

from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from engines.api.fields import SeenEngineField
from jobs.api.form_input import FormInput
from jobs.api.triage_serializers import CodeSerializer, TriageSerializer
from jobs.core.complaint import HAPPENS, WARNING_LIGHTS
from jobs.core.stages import LABELS
from jobs.forms.intake import VisitForm
from jobs.forms.notes import NoteForm
from jobs.forms.numbering import NumberingForm
from jobs.models import (
    Complaint,
    Customer,
    Note,
    NumberingCheck,
    RepairConsent,
    TimelineEvent,
    Vehicle,
    Visit,
    VisitCapture,
)
from jobs.models.intake import STAGE_CHOICES
from jobs.selectors.consents import consent_standing, yes_falls_short
from jobs.selectors.job_card import moves_offered
from jobs.selectors.numbering import numbering_of
from jobs.services.visits import LONGEST_REASON
from shopdiag.people.api.serializers import ConfirmedField, KnownFields
from shopdiag.people.authentication import member_of
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


def member_in(serializer: serializers.Field[Any, Any, Any, Any]) -> Member:
    """Return the member whose request the serializer answers."""
    return member_of(serializer.context["request"])


class CustomerSerializer(KnownFields, serializers.ModelSerializer[Customer]):
    """Who brings the vehicle; only roles that see contacts read it."""

    class Meta:
        model = Customer
        fields = ["id", "name", "phone", "email"]
        read_only_fields = ["id"]


class VehicleSerializer(KnownFields, serializers.ModelSerializer[Vehicle]):
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
            "fuel",
            "coils",
            "injection",
            "drive",
            "stop_start",
        ]
        read_only_fields = ["id"]


class ComplaintSerializer(KnownFields, serializers.ModelSerializer[Complaint]):
    """The complaint in the customer's words, and what was authorised."""

    happens = serializers.ListField(
        child=serializers.ChoiceField(choices=list(HAPPENS.items())), required=False
    )
    warning_lights = serializers.ListField(
        child=serializers.ChoiceField(choices=list(WARNING_LIGHTS.items())), required=False
    )

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


class ComplaintSeenSerializer(serializers.ModelSerializer[Complaint]):
    """The complaint as it is read; who authorised is empty for roles that see no contacts."""

    class Meta(ComplaintSerializer.Meta):
        pass

    def to_representation(self, instance: Complaint) -> dict[str, Any]:
        shown: dict[str, Any] = super().to_representation(instance)
        if not member_in(self).may(Action.SEE_CONTACT):
            shown["authorised_by"] = ""
        return shown


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
            "comeback_of",
            "version",
            "opened_at",
            "closed_at",
            "vehicle",
            "customer",
        ]
        read_only_fields = fields

    @extend_schema_field(CustomerSerializer(allow_null=True))
    def get_customer(self, visit: Visit) -> dict[str, Any] | None:
        if not member_in(self).may(Action.SEE_CONTACT):
            return None
        return dict(CustomerSerializer(visit.vehicle.customer).data)

    def get_stage_label(self, visit: Visit) -> str:
        return _(LABELS[visit.stage_enum])


class VisitCaptureSerializer(serializers.ModelSerializer[VisitCapture]):
    """A capture of a visit, as its card lists it; `capture` is the number to go on with."""

    name = serializers.CharField(source="capture.original_name")

    class Meta:
        model = VisitCapture
        fields = ["capture", "purpose", "name", "at", "aside_why"]
        read_only_fields = fields


class NumberingAskedSerializer(FormInput[NumberingForm]):
    """From what the cylinder numbers were read, and how the engine sits."""

    form_class = NumberingForm


class NumberingSerializer(serializers.ModelSerializer[NumberingCheck]):
    """Somebody's word for the cylinder numbers of this vehicle; added and never changed."""

    by = serializers.CharField(source="by.name")

    class Meta:
        model = NumberingCheck
        fields = [
            "id",
            "basis",
            "direction",
            "bank_a_side",
            "note",
            "at",
            "by",
        ]
        read_only_fields = fields


class ConsentSerializer(KnownFields, serializers.ModelSerializer[RepairConsent]):
    """The customer's answer on the repair; added and never changed."""

    by = serializers.CharField(source="by.name", read_only=True)
    form_token = serializers.UUIDField(
        required=False, write_only=True, help_text="Sent twice, it notes once."
    )
    confirmed = ConfirmedField(write_only=True)
    falls_short = serializers.SerializerMethodField(
        help_text="Why a yes that stands covers less than it seems."
    )

    class Meta:
        model = RepairConsent
        fields = [
            "id",
            "agreed",
            "said_by",
            "how",
            "amount",
            "minutes",
            "scope",
            "at",
            "by",
            "falls_short",
            "form_token",
            "confirmed",
        ]
        read_only_fields = ["id", "at", "by"]
        extra_kwargs = {"agreed": {"required": True}}

    def get_falls_short(self, said: RepairConsent) -> str:
        """Return the sentence; empty where the answer covers all, or another followed it."""
        return yes_falls_short(said) if consent_standing(said.visit) == said else ""


class MoveOfferedSerializer(serializers.Serializer[Any]):
    """A stage that this role may take the visit to, or what has to be done before."""

    to = serializers.CharField(source="stage.value")
    why_not = serializers.CharField(allow_null=True)


class VisitDetailSerializer(VisitSerializer):
    """A visit with what its card shows."""

    complaint = ComplaintSeenSerializer(read_only=True, allow_null=True)
    triage = TriageSerializer(read_only=True, allow_null=True)
    codes = CodeSerializer(many=True, read_only=True)
    captures = VisitCaptureSerializer(many=True, read_only=True, source="visit_captures")
    work_orders = serializers.PrimaryKeyRelatedField[Any](many=True, read_only=True)
    numbering = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField()

    class Meta(VisitSerializer.Meta):
        fields = [
            *VisitSerializer.Meta.fields,
            "complaint",
            "triage",
            "codes",
            "captures",
            "work_orders",
            "numbering",
            "moves",
        ]
        read_only_fields = fields

    @extend_schema_field(NumberingSerializer(allow_null=True))
    def get_numbering(self, visit: Visit) -> dict[str, Any] | None:
        check = numbering_of(visit)
        return dict(NumberingSerializer(check).data) if check else None

    @extend_schema_field(MoveOfferedSerializer(many=True))
    def get_moves(self, visit: Visit) -> Any:  # noqa: ANN401 - what a serializer gives
        return MoveOfferedSerializer(moves_offered(member_in(self), visit), many=True).data


class VisitOpenSerializer(KnownFields):
    """A new visit: numbers of a known customer and vehicle, or new ones written out.

    A known vehicle brings its customer unless another one is sent.
    """

    customer = CustomerSerializer(required=False)
    customer_id = serializers.IntegerField(required=False)
    vehicle = VehicleSerializer(required=False)
    vehicle_id = serializers.IntegerField(required=False)
    another = serializers.BooleanField(
        default=False, help_text="It is another vehicle than the one on file with its plate or VIN."
    )
    complaint = ComplaintSerializer()
    odometer = serializers.IntegerField(
        required=False, allow_null=True, help_text="In the shop's distance unit."
    )
    comeback_of = serializers.IntegerField(
        required=False,
        allow_null=True,
        help_text="The number of an earlier visit of the vehicle, as `id` gives it.",
    )
    form_token = serializers.UUIDField(
        required=False, help_text="Sent twice, it gives the visit of the first time."
    )
    confirmed = ConfirmedField()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("vehicle" in attrs) == ("vehicle_id" in attrs):
            raise serializers.ValidationError(
                {"vehicle": [_("Send either vehicle or vehicle_id, one of the two.")]}
            )
        ways = ("customer" in attrs) + ("customer_id" in attrs)
        if ways == 2 or (ways == 0 and "vehicle" in attrs):
            raise serializers.ValidationError(
                {"customer": [_("Send either customer or customer_id, one of the two.")]}
            )
        return attrs


class VisitChangeSerializer(FormInput[VisitForm]):
    """What changes in a visit; `version` keeps others' work from being overwritten."""

    form_class = VisitForm
    help_texts: ClassVar[dict[str, str]] = {"odometer": "In the shop's distance unit."}
    comeback_of = serializers.IntegerField(
        required=False, allow_null=True, help_text="An earlier visit of the vehicle; null for none."
    )


class MoveSerializer(KnownFields):
    """The stage to move to; `reason` says why, and only delivery and closing go without."""

    to = serializers.ChoiceField(choices=STAGE_CHOICES)
    reason = serializers.CharField(
        required=False, default="", allow_blank=True, max_length=LONGEST_REASON
    )
    confirmed = ConfirmedField()


class NoteAskedSerializer(FormInput[NoteForm]):
    """A remark to add."""

    form_class = NoteForm


class NoteSerializer(serializers.ModelSerializer[Note]):
    """A remark; it is added and never changed."""

    by = serializers.CharField(source="by.name")

    class Meta:
        model = Note
        fields = ["id", "text", "at", "by"]
        read_only_fields = fields


class TimelineSerializer(serializers.ModelSerializer[TimelineEvent]):
    """Who did what, when; `words` finish the sentence that begins with the name."""

    by = serializers.CharField(source="by.name", default=None)
    words = serializers.SerializerMethodField()

    class Meta:
        model = TimelineEvent
        fields = ["id", "at", "by", "kind", "words"]
        read_only_fields = fields

    def get_words(self, event: TimelineEvent) -> str:
        # This line names whoever gave the authority, mostly the customer.
        if event.kind == "authorised" and not member_in(self).may(Action.SEE_CONTACT):
            return _("noted what was authorised")
        return event.told
