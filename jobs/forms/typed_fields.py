"""Form fields of typed figures, in the units of the shop."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext

from jobs.core.measured_tests import Figure, Kind, from_kept, plain_number, to_kept, unit_of
from jobs.forms.fields import MeasuredField

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


def figure_field(
    figure: Figure, unit: str, label: "StrOrPromise" = "", limit: str = ""
) -> forms.Field:
    """Return the field of a figure; what it can be is the service's to say.

    Parameters
    ----------
    label
        Of a row of a table, whose columns have no help; empty for the figure's own.
    limit
        What the figure is held against, in words.
    """
    words = label or gettext(figure.label)
    help_text = gettext(figure.help_text) if figure.help_text and not label else ""
    help_text = " ".join(filter(None, [help_text, limit]))
    if figure.kind is Kind.CHOICE:
        choices = [("", "–"), *((c.key, gettext(c.label)) for c in figure.choices)]
        return forms.ChoiceField(label=words, required=False, choices=choices, help_text=help_text)
    return MeasuredField(
        label=words, required=False, unit=unit_of(figure, unit), help_text=help_text
    )


def kept_value(figure: Figure, value: Any, unit: str) -> Any:  # noqa: ANN401 - a figure or a key
    """Return what a field holds as it is kept."""
    return to_kept(figure, value, unit) if isinstance(value, int | float) else value


def shown_in_field(figure: Figure, figures: Mapping[str, Any], unit: str) -> Any:  # noqa: ANN401
    """Return a kept figure as its field shows it; None where there is none."""
    value = figures.get(figure.name)
    if not isinstance(value, int | float):
        return value
    shown = float(plain_number(figure, value, unit))
    return int(shown) if shown.is_integer() else shown


def kept_as_shown(figure: Figure, shown: Any, before: Mapping[str, Any], unit: str) -> Any:  # noqa: ANN401
    """Return a field's value as it is kept; one left as it was shown stays to the last digit."""
    if shown is not None and shown == shown_in_field(figure, before, unit):
        return before[figure.name]
    return kept_value(figure, shown, unit)


__all__ = ["figure_field", "from_kept", "kept_as_shown", "kept_value", "shown_in_field"]
