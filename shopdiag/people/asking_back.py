"""Asking back before something is kept: a figure that is odd, or what stands there already.

A tick belongs to the questions and the figures it was shown for: it carries their digest, and
counts only while a service would ask the very same of the very same figures.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model
from django.utils.translation import gettext as _

if TYPE_CHECKING:
    _Form: TypeAlias = forms.BaseForm
else:
    _Form = object

CONFIRMED = "confirmed"
"""Name of the tick; what a service refuses under it is kept once it is ticked."""

Confirmed: TypeAlias = bool | str
"""The digest of what a person was asked on a page and ticked; true is a program's word for
whatever would be asked of the one request that carries it."""


class Checkbox(forms.CheckboxInput):
    """A box that sends the digest of what was asked, and is ticked for that alone.

    Its name decides how it is drawn: as any other box.
    """

    def __init__(self, digest: str) -> None:
        super().__init__(check_test=lambda value: bool(digest) and value == digest)
        self.digest = digest

    def format_value(self, value: Any) -> str:  # noqa: ANN401, ARG002 - Django's signature
        return self.digest

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:  # noqa: ANN401, ARG002
        return data.get(name)


class _TickField(forms.Field):
    """What came of the tick: a digest from a page, a boolean from a program."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> Confirmed:  # noqa: ANN401 - Django's signature
        return value if isinstance(value, bool) else str(value or "")


class AsksBack(_Form):
    """A form with a tick that shows once something was asked back, by a service or a check."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self.fields[CONFIRMED] = _TickField(label=_("Keep it as typed"), required=False)
        if self.is_bound and (sent := self[CONFIRMED].value()):
            self._show_tick(str(sent))

    def add_error(self, field: str | None, error: Any) -> None:  # noqa: ANN401 - Django's
        """Add an error; one about the tick shows it, unticked unless the same was asked before."""
        super().add_error(field, error)
        asked = self.errors.as_data().get(CONFIRMED, [])
        if asked:
            self._show_tick(asked[0].code or "")

    @property
    def asks_back(self) -> bool:
        """Whether a figure is to be confirmed: asked for just now, or before."""
        return not self.fields[CONFIRMED].widget.is_hidden

    def _show_tick(self, digest: str) -> None:
        self.fields[CONFIRMED].widget = Checkbox(digest)


def is_confirmed(form: forms.BaseForm) -> Confirmed:
    """Return what a person was asked and says that it is right as typed; empty for nothing."""
    confirmed: Confirmed = form.cleaned_data.get(CONFIRMED, "")
    return confirmed


def ask_back(confirmed: Confirmed, *asked: Iterable[str], about: Mapping[str, object]) -> None:
    """Ask every question at once, unless the very same was confirmed.

    Parameters
    ----------
    confirmed
        The digest of what was asked and ticked, or true for whatever is asked now.
    asked
        Questions; none where nothing is odd.
    about
        The figures they are about: a tick does not count for others.

    Raises
    ------
    ValidationError
        Under the tick, each with the digest as its code.
    """
    questions = [question for some in asked for question in some]
    if not questions or confirmed is True:
        return
    told = json.dumps([questions, sorted(about.items())], default=str, sort_keys=True)
    digest = hashlib.sha256(told.encode()).hexdigest()[:32]
    if confirmed != digest:
        raise ValidationError({CONFIRMED: [ValidationError(q, code=digest) for q in questions]})


def already_there(rows: Iterable[Model], **values: object) -> tuple[str, ...]:
    """Return the question about what stands there already, word for word, under another token.

    Going back in a browser fetches a fresh page under the old words, so that the token alone does
    not tell a form that is sent again from one that is meant once more.

    Parameters
    ----------
    rows
        What the same person entered there.
    values
        Of the new row, by name.
    """
    for row in rows:
        if all(getattr(row, name) == value for name, value in values.items()):
            return (
                _("The same is here already, entered by you. Confirm it if it is meant again."),
            )
    return ()
