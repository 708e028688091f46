"""The form that confirms the cylinder numbering on the vehicle."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from engines.core.mounting import DIRECTION_WORDS, SIDE_WORDS, Direction, Side
from jobs.models import NumberingCheck
from shopdiag.people.asking_back import AsksBack

_NOT_SAID = ("", _("Not noted"))


class NumberingForm(AsksBack, forms.Form):
    """From what the numbering was read, and how the engine sits in the vehicle."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    basis = forms.ChoiceField(
        label=_("Confirmed from"),
        choices=NumberingCheck.Basis.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what the numbers were read from.")},
    )
    direction = forms.ChoiceField(
        label=_("How the engine sits"),
        choices=[_NOT_SAID, *((d.value, _(DIRECTION_WORDS[d])) for d in Direction)],
        widget=forms.RadioSelect,
        required=False,
        help_text=_("The front end is the end opposite the flywheel."),
    )
    bank_a_side = forms.ChoiceField(
        label=_("Bank A (bank 1) lies on the"),
        choices=[_NOT_SAID, *((s.value, _(SIDE_WORDS[s])) for s in Side)],
        widget=forms.RadioSelect,
        required=False,
        help_text=_("Bank A as on the drawing of this engine."),
    )
    note = forms.CharField(
        label=_("Note"),
        required=False,
        max_length=200,
        help_text=_("Like: 1 cast into the cover at the timing end."),
    )

    def __init__(self, *args: Any, has_banks: bool, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        if not has_banks:
            del self.fields["bank_a_side"]
