"""Numbers with the decimal sign of the reader.

Code writes numbers with a point and a hyphen; what fills a text is rewritten on its way into it.
Data for programs (JSON, attributes of pages, drawings' coordinates) goes through no text and keeps
them. Without `write_numbers_by` all is written as in English.
"""

import re
from collections.abc import Callable
from typing import Any

Separators = tuple[str, str]
"""The decimal sign, and what stands between thousands."""

ENGLISH: Separators = (".", ",")
MINUS = "\u2212"
_NUMBER = re.compile(r"[-−+±]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?:[  ]?[%°A-Za-zΩµ/]{1,6})?")

_separators: Callable[[], Separators] = lambda: ENGLISH  # noqa: E731 - replaced once


def write_numbers_by(separators: Callable[[], Separators]) -> Callable[[], Separators]:
    """Let a function say how the reader writes numbers, and return the one before.

    Called once, by the wiring, before anybody reads.
    """
    global _separators  # the one place where a framework is let in
    before, _separators = _separators, separators
    return before


def written(number: str) -> str:
    """Return a number, formatted as in English, as the reader writes it; a unit may follow.

    A negative one gets a minus sign, which no line is broken after and which is as wide as a plus.
    What is no number alone (a name, a date, a list) stays as it is.
    """
    if _NUMBER.fullmatch(number) is None:
        return number
    decimal, thousands = _separators()
    return signed(number).translate({ord("."): decimal, ord(","): thousands})


def signed(number: str) -> str:
    """Return a number with a minus sign for its hyphen, where it goes through no text."""
    return number.replace("-", MINUS, 1) if number.startswith("-") else number


def plain_figure(value: float) -> str:
    """Return a figure as it was typed, with all its digits and at most two decimals."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


class Fillable(str):
    """A text whose numbers are written as the reader does when it is filled in."""

    __slots__ = ()

    def format(self, /, *args: object, **figures: object) -> str:
        """Fill the text in."""
        return super().format(
            *(_as_read(value) for value in args),
            **{name: _as_read(value) for name, value in figures.items()},
        )


def fillable(text: str) -> str:
    """Return a text that writes numbers as the reader does."""
    return Fillable(text) if "{" in text else text


class _Number:
    """A number that is formatted first and rewritten then."""

    def __init__(self, value: float) -> None:
        self._value = value

    def __format__(self, spec: str) -> str:
        return written(format(self._value, spec))


def _as_read(value: object) -> Any:  # noqa: ANN401 - whatever fills a text
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _Number(value)
    return written(value) if isinstance(value, str) else value


def whole_percent(share: float) -> str:
    """Return a share as whole per cent, rounded as its two decimals are.

    Both stand on one page, and 0.165 rounded in binary reads 0.17 there and 16 % here.
    """
    return f"{100 * float(f'{share:.2f}'):.0f}"
