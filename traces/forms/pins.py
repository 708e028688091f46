"""A note pinned to a place in a capture's time."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopdiag.people.asking_back import AsksBack
from shopdiag.people.core.numerals import written
from shopdiag.people.number_field import NumberField
from traces.models import Reading
from traces.selectors.samples import recorded_s


class PinForm(AsksBack, forms.Form):
    """A note for a place in a capture's time; it is added and never changed."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    at_s = NumberField(
        label=gettext_lazy("Time in the recording"),
        help_text=gettext_lazy("From the curve's cursor A, or typed."),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "data-cursor": "a"}),
        error_messages={
            "required": gettext_lazy("Say the time: set cursor A in the curve, or type seconds."),
            "invalid": gettext_lazy("Type the time in seconds, like 2.35."),
        },
    )
    text = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={
            "required": gettext_lazy("Write the note first."),
            "max_length": gettext_lazy("This note is too long; keep it to 500 characters."),
        },
    )

    def __init__(self, *args: Any, reading: Reading, **kwargs: Any) -> None:  # noqa: ANN401
        # Names of its own: other forms stand on the same page.
        kwargs.setdefault("auto_id", "id_pin_%s")
        super().__init__(*args, **kwargs)
        self._reading = reading
        self.fields["at_s"].unit = "s"  # type: ignore[attr-defined]

    def clean_at_s(self) -> float:
        """Hold the time against the recording."""
        at_s = float(self.cleaned_data["at_s"])
        begin_s, end_s = recorded_s(self._reading)
        if not begin_s <= at_s <= end_s:
            if end_s == float("inf"):
                raise forms.ValidationError(
                    _("The recording begins at %(begin_s)s s.")
                    % {"begin_s": written(f"{begin_s:.2f}")}
                )
            raise forms.ValidationError(
                _("The recording runs from %(begin_s)s s to %(end_s)s s; choose a time in between.")
                % {
                    "begin_s": written(f"{begin_s:.2f}"),
                    "end_s": written(f"{end_s:.2f}"),
                }
            )
        return at_s
