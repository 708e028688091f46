"""Lines above the rows of numbers that name the columns or give their units."""

import re
from collections.abc import Sequence
from dataclasses import replace

from traces.core.readers.text_names import ColumnName, is_time_name, read_title
from traces.core.readers.text_units import NO_UNIT, TIME_FACTORS, UNITS

_MOST_HEADING_LINES = 3
_LEADING_NUMBER = re.compile(r"[-+]?[0-9]+(?:[.,:/-][0-9]+)*(?:[eE][-+]?[0-9]+)?")
_KINDS = frozenset(
    (
        *("bool", "boolean", "bit", "bits", "int", "integer", "uint", "float", "double", "real"),
        *("raw", "count", "counts", "digital", "logic", "level", "state", "states", "number"),
        *("logic level", "1/0", "0/1"),
    )
)
"""What stands in a row of units where a column has none: its kind."""

_BRACKETED = re.compile(r"[\[({<].*[\])}>]")
_UNITS_LINE = re.compile(r"units?\b(?:\s*[:=,;\t|]\s*|\s+)(?P<units>.+)", re.IGNORECASE)
_UNIT = r"[\s:=,;\t|\"\[(]+(?P<unit>[a-zµμ%°]+)"
_STATED = r"[\s_-]*(?:axis|scale|base)?(?:\s+(?:is|are|given))*[\s_-]*(?:units?|in)\b" + _UNIT
_TIME_WORD = r"(?:time[\s_-]*stamps?|times?|horizontal|h|x)"
_TIME_UNITS = (
    re.compile(rf"\b{_TIME_WORD}{_STATED}", re.IGNORECASE),
    re.compile(rf"\bunits?\s+(?:of\s+)?(?:the\s+)?{_TIME_WORD}\b{_UNIT}", re.IGNORECASE),
    # with nothing behind the unit: a figure there would be a time, not a unit
    re.compile(
        rf"(?:all\s+)?{_TIME_WORD}(?:[\s_-]*(?:axis|scale|base))?\s*[:=(\[]"
        r"[\s\"(\[]*(?P<unit>[a-zµμ]+)[\s\")\]]*(?:[,;|\t].*[^\s\d,;|].*)?",
        re.IGNORECASE,
    ),
)
_SIGNAL_UNIT = re.compile(rf"\b(?:vertical|signal|amplitude|y){_STATED}", re.IGNORECASE)


def headings(
    rows: list[list[str]], first: int, filled: list[bool]
) -> tuple[int, list[str], list[str]]:
    """Return where the headings begin, the names row and the units row (empty if none)."""
    needed = sum(filled)
    above: list[int] = []
    for i in range(first - 1, max(-1, first - 1 - _MOST_HEADING_LINES), -1):
        row = rows[i]
        if not any(row):
            continue
        named = sum(bool(field) for field in row)
        unnamed_first = not row[0] and len(row) > 1 and named == needed - 1
        blanks = not _is_units(_uncommented(row), len(filled), below_names=True)
        if (named < needed and not unnamed_first and blanks) or _is_remark(row):
            break
        above.append(i)
    if not above:
        return first, [], []
    nearest = _uncommented(rows[above[0]])
    if _is_units(nearest, len(filled), below_names=len(above) > 1):
        if len(above) > 1:
            return above[1], _uncommented(rows[above[1]]), nearest
        return above[0], [], nearest
    return above[0], nearest, []


def said_headings(
    line: int, rows: list[list[str]], first: int, width: int
) -> tuple[int, list[str], list[str]]:
    """Return the same as `headings` where a person says in which line the names stand."""
    if line == 0:
        return first, [], []
    names = _uncommented(rows[line - 1]) if rows[line - 1] else []
    below = next((row for row in rows[line:first] if any(row)), [])
    units = _uncommented(below) if below else []
    return line - 1, names, units if _is_units(units, width, below_names=True) else []


def _is_remark(row: list[str]) -> bool:
    """Return whether a line of two cells says something ("Points,1000") and names nothing."""
    cells = [cell for cell in row if cell]
    if len(cells) != 2:
        return False
    if cells[0].endswith((":", "=")):
        return True
    title = read_title(cells[0], "")
    figure = _LEADING_NUMBER.match(cells[1])
    if figure is None:
        return False
    small = figure.end() == len(cells[1]) and len(cells[1]) <= 2  # a channel's number
    return title.role != "time" and not (small and title.role == "index")


def _uncommented(row: list[str]) -> list[str]:
    first = row[0].lstrip("#%").strip()
    # a comment sign that stands alone was split off as a field of its own
    return [first, *row[1:]] if first or not row[0] else row[1:]


def _is_units(row: list[str], width: int, *, below_names: bool) -> bool:
    """Return whether the row gives units: every field is one, or says that there is none.

    Below a row of names it may leave columns blank or hold words that no list of units has.
    """
    fields = [field.strip() for field in row[:width]]
    filled = [field for field in fields if field]
    known = [field for field in filled if read_title("signal", field).unit_known]
    if filled and len(known) == len(filled):
        return True
    if not below_names or not known:
        return False
    first_is_time = _bare(fields[0]) in TIME_FACTORS
    if not first_is_time and any(map(is_time_name, map(_bare, filled))):
        return False
    others = [field for field in filled if field not in known]
    return (
        first_is_time
        or all(map(_BRACKETED.fullmatch, filled))
        or all(_bare(field) in _KINDS | NO_UNIT for field in others)
    )


def _bare(field: str) -> str:
    return field.strip('"').strip("[](){}<> ").casefold()


def with_stated_units(
    columns: Sequence[ColumnName | None], above: Sequence[str], delimiter: str
) -> list[ColumnName | None]:
    """Return columns with the units that a line above the headings gives them.

    A unit of the column's own heading stands. Lines read like "Units: s, V" (one for each
    column), "Time unit: ms", "Vertical units,V".
    """
    found = list(columns)
    for line in above:
        text = line.strip().strip('#%/"; ').strip()
        if time_unit := _time_unit(text):
            found = [_in_time_unit(column, time_unit) for column in found]
        if signal_unit := _SIGNAL_UNIT.search(text):
            found = [_in_unit(column, signal_unit["unit"]) for column in found]
        if units := _UNITS_LINE.fullmatch(text):
            found = _each_in_unit(found, _parts(units["units"], delimiter))
    return found


def _time_unit(text: str) -> str | None:
    looked, named, alone = _TIME_UNITS
    found = looked.search(text) or named.search(text) or alone.fullmatch(text)
    return found["unit"] if found else None


def _parts(text: str, delimiter: str) -> list[str]:
    for sign in dict.fromkeys((delimiter, ",", ";", " ")):
        parts = [_bare(part) for part in text.split(sign)] if sign != " " else text.split()
        if len(parts) > 1:
            return parts
    return [_bare(text)]


def _each_in_unit(
    columns: Sequence[ColumnName | None], units: Sequence[str]
) -> list[ColumnName | None]:
    there = [i for i, column in enumerate(columns) if column is not None]
    if len(units) == len(there) - 1:
        there = there[1:]  # the times have none
    if len(units) != len(there) or not any(u in UNITS or u in TIME_FACTORS for u in units):
        return list(columns)
    found = list(columns)
    for i, unit in zip(there, units, strict=True):
        found[i] = _in_unit(_in_time_unit(found[i], unit), unit)
    return found


def _in_time_unit(column: ColumnName | None, unit: str) -> ColumnName | None:
    factor = TIME_FACTORS.get(unit.casefold())
    if column is None or factor is None or column.role != "time" or column.time_factor:
        return column
    return replace(column, time_factor=factor, written_unit=unit)


def _in_unit(column: ColumnName | None, unit: str) -> ColumnName | None:
    shown = UNITS.get(unit.casefold())
    if column is None or shown is None or column.role != "signal" or column.unit:
        return column
    return replace(column, unit=shown, unit_known=True)
