"""Checks of limits that people set for a figure."""

import math

from jobs.core.measured_tests.figure import Figure, Limit
from jobs.core.measured_tests.shown import shown_value
from shopdiag.people.core.words import gettext as _


def limit_refusals(
    figure: Figure, limit: Limit, *, fuel: str, unit: str, compared: bool
) -> dict[str, str]:
    """Return why a limit cannot be, by `least`, `most` and `apart`; empty where it can.

    Parameters
    ----------
    fuel, unit
        Of the engine; of pressures in the sentences.
    compared
        Whether the figure is held against those of other cylinders.
    """
    top = figure.most_for(fuel)
    refused = {}
    for part, value in (("least", limit.least), ("most", limit.most)):
        if value is not None and not (math.isfinite(value) and figure.least <= value <= top):
            refused[part] = _(
                "{label} lies between {least} and {most}; check the figure and the unit."
            ).format(
                label=_(figure.label),
                least=shown_value(figure, figure.least, unit),
                most=shown_value(figure, top, unit),
            )
    apart = limit.apart
    if apart is not None and not compared:
        refused["apart"] = _("Only figures of cylinders are held against their mean.")
    elif apart is not None and not (math.isfinite(apart) and 0 < apart <= top - figure.least):
        refused["apart"] = _("Type how far the figure may lie from the mean, above 0.")
    if not refused and None not in {limit.least, limit.most}:
        least, most = limit.least or 0.0, limit.most or 0.0
        if least > most:
            refused["least"] = _("The least cannot be above the most; check both.")
    return refused
