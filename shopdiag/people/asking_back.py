"""Asking back before something is kept: a figure that is odd, or what stands there already."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, TypeAlias

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

if TYPE_CHECKING:
    _Form: TypeAlias = forms.BaseForm
else:
    _Form = object

CONFIRMED = "confirmed"
"""Name of the tick; what a service refuses under it is kept once it is ticked."""


class AsksBack(_Form):
    """A form with a tick that shows once something was asked back, by a service or a check."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self.fields[CONFIRMED] = forms.BooleanField(
            label="Keep it as typed", required=False, widget=forms.HiddenInput
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
    """Return whether a person was asked and says that it is right as typed."""
    return bool(form.cleaned_data.get(CONFIRMED))


def ask_if_there(rows: Iterable[Model], **values: object) -> None:
    """Ask back what stands there already, word for word, under another form token.

    Going back in a browser fetches a fresh page under the old words, so that the token alone does
    not tell a form that is sent again from one that is meant once more.

    Parameters
    ----------
    rows
        What the same person entered there.
    values
        Of the new row, by name.

    Raises
    ------
    ValidationError
        Under the tick, if a row has all the values.
    """
    for row in rows:
        if all(getattr(row, name) == value for name, value in values.items()):
            raise ValidationError(
                {
                    CONFIRMED: "The same is here already, entered by you. "
                    "Confirm it if it is meant once more."
                }
            )
