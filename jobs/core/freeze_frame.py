"""Operating values kept with a code, out of pasted lines "name value unit"."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from jobs.core.codes import codes_read

_NUMBER = r"[-+]?\d+(?:[.,]\d+)?"
# Units that hold digits come first: their digits are not the value.
_DIGIT_UNIT = r"(?:1/min|min-1|min\^-1|m/s2|m/s\^2|g/m3)"
_UNIT = rf"(?:{_DIGIT_UNIT}|[^\d\s][^\d]*)"
_LAST_NUMBERS = tuple(
    re.compile(rf"^(?P<name>.*\S)\s+(?P<value>{_NUMBER})\s*(?P<unit>{unit})$")
    for unit in (_DIGIT_UNIT, f"{_UNIT}?")
)
_VALUE_UNIT = re.compile(rf"^(?P<value>{_NUMBER})\s*(?P<unit>{_UNIT})?$")
_COLUMNS = re.compile(r"\t+|\s*[;|]\s*|\s{2,}")
_COMMA_ROW = re.compile(rf"^([^,]+),\s*({_NUMBER})\s*(?:,\s*(.*))?$")
_NAMED = re.compile(r"^(?P<name>[^:=]*[^:=\s])\s*[:=]\s*(?P<rest>.+)$")
MAX_ROWS = 200


@dataclass(frozen=True, slots=True)
class FrameRow:
    """One value as read; a line that could not be taken apart is all name."""

    name: str
    value: str
    unit: str


@dataclass(frozen=True, slots=True)
class Frame:
    """A freeze frame: its rows in order, and the first code that the text names, or empty."""

    code: str
    rows: tuple[FrameRow, ...]


def frame_text(rows: Iterable[Mapping[str, str]]) -> str:
    """Return kept rows the way they are pasted: name, value and unit, a line each."""
    return "\n".join(
        "\t".join(part for part in (row["name"], row["value"], row["unit"]) if part) for row in rows
    )


def frame_read(text: str) -> Frame:
    """Take a pasted freeze frame apart; every line that is not blank becomes a row.

    A line that only names the code becomes the frame's code instead.
    """
    code = ""
    rows: list[FrameRow] = []
    for line in text.splitlines():
        tidy = line.strip()
        if not tidy:
            continue
        codes = codes_read(tidy).codes
        if codes and not code:
            code = codes[0].base
            if not _holds_a_value(tidy):
                continue
        rows.append(_row(tidy))
    return Frame(code=code, rows=tuple(rows))


def _holds_a_value(line: str) -> bool:
    """Return whether a line with a code tells more than the code and what it is about."""
    row = _row(line)
    return bool(row.value) and not codes_read(row.value).codes


def _row(line: str) -> FrameRow:
    comma = _COMMA_ROW.match(line)
    if comma:
        return FrameRow(comma.group(1).strip(), comma.group(2), (comma.group(3) or "").strip())
    cells = [cell.strip() for cell in _COLUMNS.split(line) if cell.strip()]
    if len(cells) >= 2:
        return _valued(cells[0].rstrip(":="), cells[1], " ".join(cells[2:]))
    named = _NAMED.match(line)
    if named:
        return _valued(named.group("name"), named.group("rest").strip(), "")
    last = next((m for m in (p.match(line) for p in _LAST_NUMBERS) if m), None)
    if last:
        return FrameRow(last.group("name"), last.group("value"), (last.group("unit") or "").strip())
    return FrameRow(line, "", "")


def _valued(name: str, value: str, unit: str) -> FrameRow:
    match = None if unit else _VALUE_UNIT.match(value)
    if match:
        return FrameRow(name.strip(), match.group("value"), (match.group("unit") or "").strip())
    return FrameRow(name.strip(), value, unit)
