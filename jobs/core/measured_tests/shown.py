"""How figures are shown and typed: pressures in the shop's unit, all others in their own."""

from jobs.core.measured_tests.figure import Figure, Kind, Limit, Value, Values
from jobs.core.pressure import KPA_PER
from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import gettext as _

KPA_PER_INHG = 3.386389
"""Kilopascals in an inch of mercury (conventional), NIST Special Publication 811, appendix B.8."""
_MORE_DIGITS = {"kPa": 0, "bar": 2, "psi": 1, "inHg": 0}


def unit_of(figure: Figure, unit: str) -> str:
    """Return the unit that a figure is typed and shown in.

    Parameters
    ----------
    unit
        The shop's for pressures. Where that is psi, vacuum is read in inches of mercury.
    """
    if figure.kind is Kind.VACUUM:
        return "inHg" if unit == "psi" else unit
    return unit if figure.kind is Kind.PRESSURE else figure.unit


def _factor(figure: Figure, unit: str) -> float:
    own = unit_of(figure, unit)
    if figure.kind not in {Kind.PRESSURE, Kind.VACUUM}:
        return 1.0
    return KPA_PER_INHG if own == "inHg" else KPA_PER[own]


def to_kept(figure: Figure, value: float, unit: str) -> float:
    """Return a figure as it is kept, typed in a shop of this unit."""
    return value * _factor(figure, unit)


def from_kept(figure: Figure, value: float, unit: str) -> float:
    """Return a figure as a shop of this unit types it."""
    return value / _factor(figure, unit)


def as_shown(figure: Figure, value: float, unit: str) -> float:
    """Return a kept figure in the unit and with the digits that people read."""
    more = _MORE_DIGITS[unit_of(figure, unit)] if _factor(figure, unit) != 1.0 else 0
    return round(from_kept(figure, value, unit), figure.decimals + more)


def plain_number(figure: Figure, value: float, unit: str) -> str:
    """Return a number as it is typed, without its unit: no more digits than it has."""
    rounded = as_shown(figure, value, unit)
    return f"{rounded:.10g}" if rounded else "0"


def shown_value(figure: Figure, value: Value, unit: str) -> str:
    """Return a figure with its unit, or a choice in words."""
    if isinstance(value, str):
        chosen = figure.choice(value)
        return _(chosen.label).lower() if chosen else value
    own = unit_of(figure, unit)
    return f"{written(plain_number(figure, value, unit))} {own}".rstrip()


def limit_words(figure: Figure, limit: Limit, unit: str) -> str:
    """Return a limit in words."""

    def shown(value: float) -> str:
        return shown_value(figure, value, unit)

    parts = []
    if limit.least is not None and limit.most is not None:
        parts.append(
            _("{least} to {most}").format(least=shown(limit.least), most=shown(limit.most))
        )
    elif limit.least is not None:
        parts.append(_("at least {least}").format(least=shown(limit.least)))
    elif limit.most is not None:
        parts.append(_("at most {most}").format(most=shown(limit.most)))
    if limit.apart is not None:
        parts.append(_("within {apart} of the mean").format(apart=shown(limit.apart)))
    return "; ".join(parts)


def figures_words(figures: tuple[Figure, ...], values: Values, unit: str) -> str:
    """Return the figures of a row in one line, each with its name."""
    said = [
        _("{label} {value}").format(
            label=_(figure.head).lower(), value=shown_value(figure, values[figure.name], unit)
        )
        for figure in figures
        if figure.name in values
    ]
    return ", ".join(said)
