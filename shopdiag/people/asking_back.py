"""Forms that ask a figure back before it is kept."""

from typing import TYPE_CHECKING, Any, TypeAlias

from django import forms

if TYPE_CHECKING:
    _Form: TypeAlias = forms.BaseForm
else:
    _Form = object

CONFIRMED = "confirmed"
"""Name of the tick; what a service refuses under it is kept once it is ticked."""


class AsksBack(_Form):
    """A form with a tick that shows once a figure was asked back, by a service or a check."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self.fields[CONFIRMED] = forms.BooleanField(
            label="The figures are right as typed", required=False, widget=forms.HiddenInput
        )
        if self.is_bound and self[CONFIRMED].value():
            self._show_tick()

    def add_error(self, field: str | None, error: Any) -> None:  # noqa: ANN401 - Django's
        """Add an error; one about the tick shows it."""
        super().add_error(field, error)
        if CONFIRMED in self.errors:
            self._show_tick()

    @property
    def asks_back(self) -> bool:
        """Whether a figure is to be confirmed: asked for just now, or before."""
        return not self.fields[CONFIRMED].widget.is_hidden

    def _show_tick(self) -> None:
        self.fields[CONFIRMED].widget = forms.CheckboxInput()


def is_confirmed(form: forms.BaseForm) -> bool:
    """Return whether a person was asked about an odd figure and says that it is right."""
    return bool(form.cleaned_data.get(CONFIRMED))
