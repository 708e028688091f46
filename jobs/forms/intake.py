"""Forms for customer, vehicle, visit and complaint, alone and together at intake."""

import json
from typing import TYPE_CHECKING, Any, TypeAlias

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.fitted import COILS, INJECTION, fitted_refusals
from engines.models import Engine
from jobs.core.complaint import HAPPENS, WARNING_LIGHTS
from jobs.core.vin import vin_clean
from jobs.models import Complaint, Customer, Vehicle, Visit
from jobs.selectors.comebacks import comebacks_to_pick
from jobs.selectors.history import VinRemarks, vin_remarks
from jobs.services.intake import (
    COMPLAINT_FIELDS,
    CUSTOMER_FIELDS,
    VEHICLE_FIELDS,
    VISIT_FIELDS,
)
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.core.numerals import written
from shopdiag.people.models import Member
from shopdiag.people.versioned import ModelForm, VersionedForm

if TYPE_CHECKING:
    VisitChoiceField: TypeAlias = forms.ModelChoiceField[Visit]
else:
    VisitChoiceField = forms.ModelChoiceField

MAX_ODOMETER = 3_000_000
MAX_MINUTES = 6000
FIRST_YEAR = 1900


def _text_area(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class CustomerFields(ModelForm):
    """What a shop needs to call a customer back."""

    class Meta:
        model = Customer
        fields = CUSTOMER_FIELDS
        labels = {"email": _("E-mail")}
        widgets = {
            "name": forms.TextInput(attrs={"autocomplete": "off"}),
            "phone": forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
            "email": forms.EmailInput(attrs={"autocomplete": "off"}),
        }
        error_messages = {"name": {"required": _("Write the customer's name.")}}


class CustomerForm(VersionedForm, CustomerFields):
    """A customer on file."""

    class Meta(CustomerFields.Meta):
        pass


class VehicleFields(ModelForm):
    """What identifies a vehicle and how its engine is built."""

    class Meta:
        model = Vehicle
        fields = VEHICLE_FIELDS
        widgets = {
            "plate": forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off"}),
            "vin": forms.TextInput(
                attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
            ),
        }
        help_texts = {
            "vin": _("17 letters and digits; a number that looks wrong is kept and pointed out."),
            "engine": _("Sets cylinders and firing order for the cranking test."),
            "fuel": _("What this vehicle burns; limits, tests and cautions go by it."),
            "injection": _("Coils and injection decide which tests the plan asks for."),
            "stop_start": _("With it the engine may crank by itself."),
        }
        error_messages = {
            "make": {"required": _("Write the vehicle's make.")},
            "model": {"required": _("Write the vehicle's model.")},
        }

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self.member = member
        # Said while the form is still being filled in, too; the form itself refuses no VIN.
        own = {"vehicle": self.instance.pk} if self.instance.pk else {}
        self.fields["vin"].widget.attrs.update(
            {
                "hx-get": reverse("jobs:vin-check"),
                "hx-trigger": "change",
                "hx-target": "#vin-warnings",
                "hx-vals": json.dumps(own),
            }
        )
        engine = self.fields["engine"]
        if isinstance(engine, forms.ModelChoiceField):
            chosen = self.instance.engine_id
            queryset = Engine.objects.seen_by(member).in_use()
            if chosen:
                queryset = queryset | Engine.objects.seen_by(member).filter(pk=chosen)
            engine.queryset = queryset
            engine.empty_label = gettext("Not known yet")
        for name, choices in (
            ("fuel", Vehicle.Fuel.choices),
            ("coils", [(key, gettext(words)) for key, words in COILS.items()]),
            ("injection", [(key, gettext(words)) for key, words in INJECTION.items()]),
        ):
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = [("", gettext("As its engine")), *choices]

    @property
    def vin_remarks(self) -> VinRemarks:
        """What is odd about the VIN as it stands in the form."""
        own = str(self.instance.pk or "")
        return vin_remarks(self.member, str(self["vin"].value() or ""), own=own)

    def clean_vin(self) -> str:
        """Keep a VIN tidy, however it was typed."""
        return vin_clean(self.cleaned_data["vin"])

    def clean(self) -> dict[str, Any]:
        """Refuse coils and injection that do not go with the fuel."""
        data = super().clean() or self.cleaned_data
        engine = data.get("engine")
        fuel = data.get("fuel") or (engine.fuel if engine else "")
        refused = fitted_refusals(fuel, data.get("coils", ""), data.get("injection", ""))
        for field, words in refused.items():
            self.add_error(field, words)
        return data

    def clean_year(self) -> int | None:
        """Refuse a year that no vehicle has."""
        year: int | None = self.cleaned_data["year"]
        last = timezone.localdate().year + 2
        if year is not None and not FIRST_YEAR <= year <= last:
            raise forms.ValidationError(
                gettext("Type a model year from %(first_year)s to %(last)s, or leave it empty.")
                % {"first_year": FIRST_YEAR, "last": last}
            )
        return year


class VehicleForm(VersionedForm, VehicleFields):
    """A vehicle on file."""

    class Meta(VehicleFields.Meta):
        pass

    def again(self, data: Any, current: Any) -> "VehicleForm":  # noqa: ANN401 - as in the base
        """Make the same form anew for the same member."""
        return VehicleForm(data, instance=current, prefix=self.prefix, member=self.member)


class ComebackField(VisitChoiceField):
    """An earlier job of the same vehicle."""

    def label_from_instance(self, obj: Visit) -> str:
        """Name the job with its day."""
        day = date_format(timezone.localtime(obj.opened_at), "j M Y")
        return gettext("Job %(number)s, %(day)s") % {"number": obj.number, "day": day}


class VisitFields(ModelForm):
    """What is noted of the vehicle at this visit.

    `vehicle` is one on file; only such a one can come back.
    """

    class Meta:
        model = Visit
        fields = VISIT_FIELDS
        field_classes = {"comeback_of": ComebackField}
        help_texts = {
            "comeback_of": _("The earlier job, where the customer says that it was not cured."),
        }

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        member: Member,
        vehicle: Vehicle | None = None,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        self.vehicle = vehicle
        comeback = self.fields["comeback_of"]
        if isinstance(comeback, forms.ModelChoiceField):
            visit = self.instance if self.instance.pk else None
            earlier = comebacks_to_pick(member, vehicle, visit) if vehicle else None
            if earlier is None or not earlier.exists():
                del self.fields["comeback_of"]
            else:
                comeback.queryset = earlier
                comeback.empty_label = gettext("No earlier job")
        odometer = self.fields["odometer"]
        odometer.unit = member.shop.distance_unit  # type: ignore[attr-defined]
        odometer.widget.attrs["inputmode"] = "numeric"

    def clean_odometer(self) -> int | None:
        """Refuse a reading that no vehicle has."""
        reading: int | None = self.cleaned_data["odometer"]
        if reading is not None and reading > MAX_ODOMETER:
            raise forms.ValidationError(
                gettext(
                    "Type the odometer as it reads, at most %(max_odometer)s, or leave it empty."
                )
                % {"max_odometer": written(f"{MAX_ODOMETER:,}")}
            )
        return reading


class VisitForm(AsksBack, VersionedForm, VisitFields):
    """A visit's own fields."""

    class Meta(VisitFields.Meta):
        pass

    def again(self, data: Any, current: Any) -> "VisitForm":  # noqa: ANN401 - as in the base
        """Make the same form anew for the same member."""
        return VisitForm(
            data, instance=current, prefix=self.prefix, member=self.member, vehicle=self.vehicle
        )


class ComplaintFields(ModelForm):
    """The complaint in the customer's words, and what was authorised."""

    happens = forms.MultipleChoiceField(
        label=_("When it happens"),
        required=False,
        choices=[(key, _(words)) for key, words in HAPPENS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
    warning_lights = forms.MultipleChoiceField(
        label=_("Warning lights"),
        required=False,
        choices=[(key, _(words)) for key, words in WARNING_LIGHTS.items()],
        widget=forms.CheckboxSelectMultiple,
    )

    class Meta:
        model = Complaint
        fields = COMPLAINT_FIELDS
        widgets = {
            "words": _text_area(4),
            "recent_work": _text_area(2),
            "happened_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }
        help_texts = {
            "words": _("As it was said, not what it may be."),
            "authorised_amount": _("A bare number gets the shop's currency."),
            "recent_work": _("Repairs, parts, fuel and standing time before it began."),
        }
        error_messages = {"words": {"required": _("Write down what the customer says.")}}

    def clean_happened_on(self) -> Any:  # noqa: ANN401 - a date or None
        """Refuse a day that is still to come."""
        day = self.cleaned_data["happened_on"]
        if day and day > timezone.localdate():
            raise forms.ValidationError(
                gettext("This day is still to come; type the day when it was first noticed.")
            )
        return day

    def clean_authorised_minutes(self) -> int | None:
        """Refuse more minutes than a job can have."""
        minutes: int | None = self.cleaned_data["authorised_minutes"]
        if minutes is not None and minutes > MAX_MINUTES:
            raise forms.ValidationError(
                gettext("Type at most %(max_minutes)s minutes.") % {"max_minutes": MAX_MINUTES}
            )
        return minutes

    def clean(self) -> dict[str, Any] | None:
        """Ask who authorised what was authorised, and how."""
        cleaned: dict[str, Any] | None = super().clean()
        values = self.cleaned_data
        agreed = values.get("authorised_minutes") is not None or values.get("authorised_amount")
        if agreed and not values.get("authorised_by") and "authorised_by" not in self.errors:
            self.add_error("authorised_by", gettext("Write who authorised this."))
        if agreed and not values.get("authorised_how") and "authorised_how" not in self.errors:
            self.add_error("authorised_how", gettext("Choose how it was authorised."))
        return cleaned


class ComplaintForm(AsksBack, VersionedForm, ComplaintFields):
    """The complaint of a visit."""

    class Meta(ComplaintFields.Meta):
        pass
