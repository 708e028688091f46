"""The form for the customer's answer on the repair."""

from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.models import Complaint
from jobs.services.consent import SaidOnRepair
from shopdiag.people.asking_back import AsksBack


class ConsentForm(AsksBack, forms.Form):
    """Yes or no, who said it, how, and up to which amount."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    agreed = forms.TypedChoiceField(
        label=_("What did the customer say?"),
        choices=[("yes", _("Agrees to the repair")), ("no", _("Wants no repair"))],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": _("Say whether the customer agreed.")},
    )
    said_by = forms.CharField(
        label=_("Who said it"),
        max_length=120,
        error_messages={"required": _("Write down who said it.")},
    )
    how = forms.ChoiceField(
        label=_("How"),
        choices=[c for c in Complaint.Consent.choices if c[0]],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say how it was said.")},
    )
    amount = forms.CharField(label=_("Up to which amount"), max_length=60, required=False)
    minutes = forms.IntegerField(
        label=_("Up to how many minutes"), required=False, min_value=1, max_value=14_400
    )
    scope = forms.CharField(label=_("For which repair"), max_length=400, required=False)

    @property
    def said(self) -> SaidOnRepair:
        """The answer as the service takes it."""
        return SaidOnRepair(**{k: v for k, v in self.cleaned_data.items() if k != "form_token"})
