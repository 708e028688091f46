"""The form of a swap test."""

from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.misfires import CountsError, counts_read
from jobs.forms.finding import cylinders_of
from jobs.models import SwapTest, WorkOrder
from jobs.services.swaps import Swapped
from shopdiag.people.asking_back import AsksBack

_COUNTS_HELP = _("Like 1: 0, 2: 143; leave it empty if none were counted.")


class SwapForm(AsksBack, forms.Form):
    """Which part moved from where to where, and what the misfire did."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    part = forms.ChoiceField(
        label=_("Part"),
        choices=SwapTest.Part.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose the part that was moved.")},
    )
    from_cylinder = forms.TypedChoiceField(
        label=_("From cylinder"), coerce=int, widget=forms.RadioSelect
    )
    to_cylinder = forms.TypedChoiceField(
        label=_("To cylinder"), coerce=int, widget=forms.RadioSelect
    )
    followed = forms.ChoiceField(
        label=_("Did the misfire follow the part?"),
        choices=SwapTest.Followed.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say whether the misfire followed the part.")},
    )
    counts_before = forms.CharField(
        label=_("Misfire counts before"), required=False, max_length=400, help_text=_COUNTS_HELP
    )
    counts_after = forms.CharField(
        label=_("Misfire counts after"), required=False, max_length=400, help_text=_COUNTS_HELP
    )
    words = forms.CharField(label=_("What else was seen"), required=False, max_length=400)

    def __init__(self, *args: Any, order: WorkOrder, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        for name in ("from_cylinder", "to_cylinder"):
            field = cast("forms.TypedChoiceField", self.fields[name])
            field.choices = [(c, str(c)) for c in cylinders_of(order)]
            field.error_messages["required"] = gettext("Choose the cylinder.")
        if len(order.cylinders) == 1:
            self.fields["from_cylinder"].initial = order.cylinders[0]

    def clean_counts_before(self) -> dict[int, int]:
        return _counts(self.cleaned_data["counts_before"])

    def clean_counts_after(self) -> dict[int, int]:
        return _counts(self.cleaned_data["counts_after"])

    @property
    def swapped(self) -> Swapped:
        """The swap test as the service takes it."""
        return Swapped(**{k: v for k, v in self.cleaned_data.items() if k != "form_token"})


def _counts(text: str) -> dict[int, int]:
    if not text.strip():
        return {}
    try:
        return counts_read(text)
    except CountsError as error:
        raise forms.ValidationError(str(error)) from None
