"""How a text was taken apart, in words and figures for whoever confirms or corrects it."""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from traces.core.plain_json import fields_json

FIRST_LINES = 8
_AROUND = 2
_LONGEST_LINE = 200
_LONGEST_CELL = 80
_MOST_COLUMNS = 64


@dataclass(frozen=True, slots=True)
class TextFacts:
    """What the reader found out about a text.

    Parameters
    ----------
    lines
        The first lines and those around the first row of numbers: number from 1, and text.
    delimiter, decimal
        Between columns and inside of numbers; None where it is no table.
    heading_line, first_row_line
        From 1; None where there are no headings.
    columns
        What stands above each column; "" where nothing does.
    time_column
        From 1; None where the file has no times.
    time_unit
        As far as the file says.
    """

    lines: tuple[tuple[int, str], ...]
    delimiter: str | None = None
    decimal: str | None = None
    heading_line: int | None = None
    first_row_line: int | None = None
    columns: tuple[str, ...] = ()
    time_column: int | None = None
    time_unit: str | None = None

    def to_json(self) -> dict[str, Any]:
        """Return plain values."""
        lines = [{"line": number, "text": text} for number, text in self.lines]
        return fields_json(self) | {"lines": lines}


def shown_lines(lines: Sequence[str], first_row_idx: int = 0) -> tuple[tuple[int, str], ...]:
    """Return a text's first lines, and those around its first row where that comes later."""
    most = len(lines)
    if most and not lines[-1]:
        most -= 1  # behind the last line's end there is none
    places = list(range(min(FIRST_LINES, most)))
    around = range(max(0, first_row_idx - _AROUND), min(first_row_idx + _AROUND + 1, most))
    places += [place for place in around if place >= FIRST_LINES]
    return tuple((place + 1, harmless(lines[place], _LONGEST_LINE)) for place in places)


def shown_columns(titles: Sequence[str]) -> tuple[str, ...]:
    """Return headings as they can be shown."""
    return tuple(harmless(title, _LONGEST_CELL) for title in titles[:_MOST_COLUMNS])


def harmless(text: str, most: int) -> str:
    """Return text without signs that steer a screen or cannot be stored; tabs stay."""
    cut = text[:most] + ("…" if len(text) > most else "")
    return "".join(map(_harmless, cut))


def _harmless(sign: str) -> str:
    if sign.isprintable() or sign == "\t":
        return sign
    return " " if unicodedata.category(sign) == "Zs" else "\N{REPLACEMENT CHARACTER}"
