"""The form of a new job: who, which vehicle and what is wrong, in one."""

from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.search import plate_key
from jobs.forms.intake import ComplaintFields, CustomerFields, VehicleFields, VisitFields
from jobs.models import Complaint, Customer, Vehicle, Visit
from jobs.selectors.history import vehicles_alike
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.models import Member


class WhoForm(AsksBack, forms.Form):
    """Which known customer and vehicle the intake is for, if any; the tick for odd figures."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    vehicle = forms.IntegerField(widget=forms.HiddenInput, required=False)
    customer = forms.IntegerField(widget=forms.HiddenInput, required=False)
    another = forms.BooleanField(label=_("It is another vehicle"), required=False)


class IntakeForm:
    """The whole intake page: who and what comes in, and with which complaint.

    `vehicle` and `customer` are rows on file that were chosen; what is not chosen is typed.
    """

    def __init__(
        self,
        data: Any = None,  # noqa: ANN401 - QueryDict
        *,
        member: Member,
        vehicle: Vehicle | None = None,
        customer: Customer | None = None,
    ) -> None:
        self.member = member
        self.chosen_vehicle = vehicle
        self.chosen_customer = customer
        self.who = WhoForm(data)
        self.customer = None if customer else CustomerFields(data, prefix="customer")
        self.vehicle = None if vehicle else VehicleFields(data, prefix="vehicle", member=member)
        self.visit = VisitFields(data, prefix="visit", member=member, vehicle=vehicle)
        self.complaint = ComplaintFields(data, prefix="complaint")
        self.alike: list[Vehicle] = []

    @property
    def parts(self) -> list[forms.BaseForm]:
        """The forms that the page is made of."""
        forms_there: list[forms.BaseForm | None] = [
            self.customer,
            self.vehicle,
            self.visit,
            self.complaint,
            self.who,
        ]
        return [form for form in forms_there if form is not None]

    def visible_fields(self) -> list[forms.BoundField]:
        """Every field that shows, for the one list of errors at the top."""
        return [field for part in self.parts for field in part.visible_fields()]

    def hidden_fields(self) -> list[forms.BoundField]:
        """Every field that does not show."""
        return [field for part in self.parts for field in part.hidden_fields()]

    def non_field_errors(self) -> list[str]:
        """What is wrong with no single field."""
        return [str(error) for part in self.parts for error in part.non_field_errors()]

    @property
    def typed_customer(self) -> Customer:
        """The customer as typed."""
        return cast("Customer", cast("CustomerFields", self.customer).instance)

    @property
    def typed_vehicle(self) -> Vehicle:
        """The vehicle as typed."""
        return cast("Vehicle", cast("VehicleFields", self.vehicle).instance)

    @property
    def typed_complaint(self) -> Complaint:
        """The complaint as typed."""
        return cast("Complaint", self.complaint.instance)

    def is_valid(self) -> bool:
        """Check every part, so that all errors are told at once."""
        # A list, because `all` would stop at the first part with an error.
        sound = all([form.is_valid() for form in self.parts])  # noqa: C419
        if sound and self.vehicle and not self._knows_better():
            self.alike = vehicles_alike(
                self.member,
                plate_key=plate_key(self.vehicle.cleaned_data["plate"]),
                vin=self.vehicle.cleaned_data["vin"],
            )
            if self.alike:
                self.who.add_error(
                    None,
                    gettext(
                        "A vehicle with this plate or VIN is on file: "
                        "choose it below, or say that it is another one."
                    ),
                )
        return sound and not self.alike

    @property
    def fields(self) -> dict[str, forms.Field]:
        """Where a service's sentences may stand: beside the tick of a figure asked back."""
        return self.who.fields

    def add_error(self, field: str | None, error: Any) -> None:  # noqa: ANN401 - Django's signature
        """Put what a service refused on the page."""
        self.who.add_error(field, error)

    def _knows_better(self) -> bool:
        """Return whether a vehicle like one on file is meant, or this form was sent before."""
        who = self.who.cleaned_data
        sent_before = Visit.objects.seen_by(self.member).filter(form_token=who["form_token"])
        return bool(who["another"]) or sent_before.exists()
