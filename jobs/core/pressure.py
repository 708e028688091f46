"""How pressures and shares are shown: the shop's unit outside, kilopascals inside."""

from typing import Literal, TypeAlias

from shopdiag.people.core.numerals import written
from shopdiag.people.core.words import gettext as _

PressureUnit: TypeAlias = Literal["kPa", "bar", "psi"]

KPA_PER: dict[str, float] = {"kPa": 1.0, "bar": 100.0, "psi": 6.894757}
"""Kilopascals in one unit; psi from NIST Special Publication 811, appendix B.8."""

DIGITS = {"kPa": 0, "bar": 1, "psi": 0}

MOST_KPA = 10_000.0
"""More than any engine's compression gauge shows; a larger figure is a wrong unit."""

_MOST_MORE_DIGITS = 2


def to_kpa(value: float, unit: str) -> float:
    """Return `value`, given in `unit` (kPa, bar or psi), in kilopascals.

    Raises
    ------
    ValueError
        If the unit is none of the three.
    """
    return value * _factor(unit)


def from_kpa(value_kpa: float, unit: str) -> float:
    """Return `value_kpa` in `unit` (kPa, bar or psi).

    Raises
    ------
    ValueError
        If the unit is none of the three.
    """
    return value_kpa / _factor(unit)


def shown(value_kpa: float, unit: str) -> str:
    """Return a pressure as a gauge reads it in `unit`, such as '1000 kPa' or '10.3 bar'."""
    return written(f"{from_kpa(value_kpa, unit):.{DIGITS[unit]}f} {unit}")


def as_typed(value_kpa: float, unit: str) -> str:
    """Return a pressure with the digits it was typed with, such as '6.4 kPa'."""
    return f"{from_kpa(value_kpa, unit):.6g} {unit}"


def shown_apart(one_kpa: float, other_kpa: float, unit: str) -> tuple[str, str]:
    """Return two different pressures so that they read differently, with more digits if needed."""
    return _apart(from_kpa(one_kpa, unit), from_kpa(other_kpa, unit), DIGITS[unit], unit)


def percents_apart(one: float, other: float) -> tuple[str, str]:
    """Return two different shares so that they read differently."""
    return _apart(100 * one, 100 * other, 0, "%")


def _apart(one: float, other: float, digits: int, unit: str) -> tuple[str, str]:
    for more in range(digits, digits + _MOST_MORE_DIGITS + 1):
        first, second = f"{one:.{more}f} {unit}", f"{other:.{more}f} {unit}"
        if first != second:
            break
    return first, second


def percent(share: float) -> str:
    """Return a share, 1.00 = all of it, as '62 %'."""
    return f"{100 * share:.0f} %"


def _factor(unit: str) -> float:
    try:
        return KPA_PER[unit]
    except KeyError:
        raise ValueError(
            _("“{unit}” is not a pressure unit; use kPa, bar or psi.").format(unit=unit)
        ) from None
