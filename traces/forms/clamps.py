"""The form of a clamp."""

from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from shopdiag.people.number_field import NumberField


class ClampForm(forms.Form):
    """A clamp's name and scale."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    name = forms.CharField(
        label=_("Name"),
        max_length=60,
        help_text=_("As people call it, like “blue clamp, high range”."),
    )
    mv_per_a = NumberField(
        label=_("Scale (mV/A)"),
        help_text=_(
            "Read it off the clamp's switch. 10 mV/A makes 1 V = 100 A. Add a clamp with a switch "
            "once for each range."
        ),
        error_messages={"invalid": _("Type the scale as a number, like 2.5.")},
    )
