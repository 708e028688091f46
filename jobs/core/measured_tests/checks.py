"""Figures that cannot be are refused; those that are likely a slip are asked back."""

import math
from collections.abc import Mapping

from jobs.core.measured_tests.figure import Figure, Kind, Value, Values
from jobs.core.measured_tests.shown import shown_value
from shopdiag.people.core.words import gettext as _


def checked_values(
    figures: tuple[Figure, ...], values: Mapping[str, object], *, fuel: str, unit: str
) -> tuple[dict[str, Value], dict[str, str]]:
    """Return the figures of a row as they are kept, and why others are refused, by name.

    Parameters
    ----------
    figures
        Those that are typed in the test.
    values
        As they came, in the units of their names; None and '' say nothing.
    fuel, unit
        Of the engine; of pressures in the sentences.
    """
    known = {figure.name: figure for figure in figures if figure.is_typed}
    kept: dict[str, Value] = {}
    refused: dict[str, str] = {}
    for name, value in values.items():
        if value is None or value == "":
            continue
        figure = known.get(name)
        if figure is None:
            refused[name] = _("This test has no figure “{name}”.").format(name=name[:40])
        elif figure.kind is Kind.CHOICE:
            if not isinstance(value, str) or figure.choice(value) is None:
                refused[name] = _("Choose one of: {choices}.").format(
                    choices=", ".join(_(c.label).lower() for c in figure.choices)
                )
            else:
                kept[name] = value
        elif isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            refused[name] = _("Type a number.")
        else:
            most = figure.most_for(fuel)
            if not figure.least <= value <= most:
                refused[name] = _(
                    "{label} lies between {least} and {most}; check the figure and the unit."
                ).format(
                    label=_(figure.label),
                    least=shown_value(figure, figure.least, unit),
                    most=shown_value(figure, most, unit),
                )
            else:
                kept[name] = float(value)
    return {name: kept[name] for name in known if name in kept}, refused


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def doubts_about_figures(
    figures: tuple[Figure, ...], values: Values, *, fuel: str, unit: str
) -> list[str]:
    """Return which figures of a row are likely a slip; empty where none is."""
    asked = []
    for figure in figures:
        value, usual = figure.of(values), figure.usual_for(fuel)
        if usual is None or not isinstance(value, int | float):
            continue
        if not usual[0] <= value <= usual[1]:
            asked.append(
                _(
                    "{label} of {value} is unusual ({least} to {most}). Check the figure and the "
                    "unit; confirm it if it is right."
                ).format(
                    label=_(figure.label),
                    value=shown_value(figure, value, unit),
                    least=shown_value(figure, usual[0], unit),
                    most=shown_value(figure, usual[1], unit),
                )
            )
    return asked
