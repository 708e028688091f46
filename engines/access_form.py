"""The form on an engine's page for how long its plugs take to reach."""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.access import MOST_MINUTES
from engines.models import BankAccess, Engine
from shopdiag.people.asking_back import CONFIRMED, AsksBack


class AccessForm(AsksBack, forms.Form):
    """Minutes by bank, and what is in the way."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4, required=False)
    note = forms.CharField(
        label=_("What is in the way"),
        required=False,
        max_length=200,
        help_text=_("Such as “intake manifold off for the rear bank”."),
    )

    field_order: list[str]

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        engine: Engine,
        kept: Mapping[str, BankAccess],
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._banks = engine.layout_kind.banks
        for bank in self._banks:
            self.fields[_name(bank)] = forms.IntegerField(
                label=gettext("Minutes to reach the plugs of bank %(bank)s") % {"bank": bank}
                if bank
                else gettext("Minutes to reach the plugs"),
                required=False,
                min_value=0,
                max_value=MOST_MINUTES,
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
                initial=kept[bank].minutes if bank in kept else None,
            )
        newest = max(kept.values(), key=lambda row: row.pk, default=None)
        self.fields["note"].initial = newest.note if newest else ""
        self.order_fields([*map(_name, self._banks), "note", CONFIRMED])

    @property
    def minutes(self) -> dict[str, int]:
        """Minutes by the bank's letter, of a valid form."""
        given = {bank: self.cleaned_data[_name(bank)] for bank in self._banks}
        return {bank: value for bank, value in given.items() if value is not None}


def _name(bank: str) -> str:
    return f"minutes_{bank.lower()}" if bank else "minutes"
