"""A number as people type it: with a comma or a point, on a decimal keypad."""

from typing import Any

from django import forms


class NumberField(forms.FloatField):
    """A number in a text field; a browser's number field drops or misreads a comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})

    def to_python(self, value: Any) -> Any:  # noqa: ANN401 - as Django's own field has it
        """Read a decimal comma as a point."""
        if isinstance(value, str) and value.count(",") == 1 and "." not in value:
            value = value.replace(",", ".")
        return super().to_python(value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:  # noqa: ARG002 - Django's signature
        """Return no step or limits: those belong to a browser's number field."""
        return {}
