"""A number as people type it: with a comma or a point, on a decimal keypad."""

import re
from typing import Any

from django import forms
from django.utils.translation import gettext as _

_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
"""Such as 1,210: a thousand with its comma, or a decimal comma before three digits."""


class NumberField(forms.FloatField):
    """A number in a text field; a browser's number field drops or misreads a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:  # noqa: ANN401 - as Django's own field has it
        """Read a decimal comma as a point; what may mean two numbers is asked back.

        Raises
        ------
        ValidationError
            If it is no number, or may be read as two.
        """
        if isinstance(value, str):
            value = value.strip().replace("\u2212", "-")
            if _GROUPED.fullmatch(value):
                whole, rest = value.split(",")
                raise forms.ValidationError(
                    _(
                        "Type %(whole)s%(rest)s or %(whole)s.%(rest_2)s: “%(value)s” can be read "
                        "as both."
                    )
                    % {
                        "whole": whole,
                        "rest": rest,
                        "rest_2": rest.rstrip("0") or "0",
                        "value": value,
                    },
                    code="ambiguous",
                )
            if value.count(",") == 1 and "." not in value:
                value = value.replace(",", ".")
        return super().to_python(value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:  # noqa: ARG002 - Django's signature
        """Return no step or limits: those belong to a browser's number field."""
        return {}
