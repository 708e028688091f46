"""How a delimited text file is laid out, found from its first lines."""

import codecs
import csv
import re
from collections import Counter
from dataclasses import dataclass
from typing import Literal, TypeAlias

from traces.core.readers.recording import ReadError, Source
from traces.core.readers.text_names import ColumnName, Preamble, read_preamble, read_title

Decimal: TypeAlias = Literal[".", ","]

_DELIMITERS = ("\t", ";", ",", "|", " ")
_NUMBER = {
    ".": re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?"),
    ",": re.compile(r"[-+]?(\d+(,\d*)?|,\d+)([eE][-+]?\d+)?"),
}
MISSING_WORDS = ("", "nan", "inf", "+inf", "-inf", "∞", "-∞", "n/a", "na", "null", "-", "---", "ol")
_CONTROL_BYTES = bytes(set(range(32)) - {9, 10, 12, 13, 27})
_PROBE_LINES = 400
_MOST_HEADING_LINES = 3


@dataclass(frozen=True, slots=True)
class Layout:
    """What it takes to read the rows.

    Parameters
    ----------
    encoding, delimiter, decimal
        Of the text; delimiter " " stands for any run of blanks.
    first_row_idx
        0-based line of the first row of numbers.
    columns
        One per column of the rows, left to right; None for a column that stays empty.
    preamble
        What lines above the headings say about rate and start.
    headed
        Whether names were given in the file.
    rows_probed
        Rows of numbers in the part looked at.
    """

    encoding: str
    delimiter: str
    decimal: Decimal
    first_row_idx: int
    columns: tuple[ColumnName | None, ...]
    preamble: Preamble
    headed: bool
    rows_probed: int


def encoding_of(source: Source) -> str | None:
    """Return the text encoding of the file, or None where it is not text."""
    head = source.head
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF32_LE, "utf-32"),
        (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if head.startswith(mark):
            return encoding
    half = len(head) // 2
    if half > 8 and head[1::2].count(0) > 0.9 * half and not head[0::2].count(0):
        return "utf-16-le"
    if half > 8 and head[0::2].count(0) > 0.9 * half and not head[1::2].count(0):
        return "utf-16-be"
    if len(head.translate(None, _CONTROL_BYTES)) < len(head):
        return None
    try:
        # the head may end inside a character
        codecs.getincrementaldecoder("utf-8")().decode(head, final=source.whole_in_head)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def layout_of(source: Source) -> Layout:
    """Work out delimiter, decimal sign, headings and where the numbers begin.

    Raises
    ------
    ReadError
        If there are no rows of numbers.
    """
    encoding = encoding_of(source)
    if encoding is None:
        raise ReadError("The file is not text; save the recording as CSV or WAV.")
    text = source.head.decode(encoding, errors="replace")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not source.whole_in_head and len(lines) > 1:
        lines.pop()  # cut by the end of the head
    delimiter, decimal = _dialect(lines)
    rows = [split(line, delimiter) for line in lines]
    numeric = [is_row(row, decimal) for row in rows]
    first = _first_row(numeric)
    if first is None:
        raise _no_rows(rows)
    body = [row for row, good in zip(rows[first:], numeric[first:], strict=True) if good]
    width = Counter(len(row) for row in body[:_PROBE_LINES]).most_common(1)[0][0]
    filled = [any(len(row) > i and row[i] for row in body[:_PROBE_LINES]) for i in range(width)]
    while filled and not filled[-1]:
        filled.pop()  # a delimiter closes each row
    heading_at, names, units = _headings(rows, first, filled)
    preamble = read_preamble(lines[:heading_at], names, units, len(filled))
    columns = tuple(
        read_title(_at(names, i), _at(units, i)) if i < len(filled) else None for i in range(width)
    )
    return Layout(
        encoding=encoding,
        delimiter=delimiter,
        decimal=decimal,
        first_row_idx=first,
        columns=columns,
        preamble=preamble,
        headed=bool(names),
        rows_probed=len(body),
    )


def split(line: str, delimiter: str) -> list[str]:
    """Split one line into bare fields."""
    line = line.strip("\ufeff")
    if delimiter == " ":
        return line.split()
    if '"' in line:
        fields = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    else:
        fields = line.split(delimiter)
    return [field.strip() for field in fields]


def is_row(fields: list[str], decimal: str) -> bool:
    """Return whether the fields are numbers or gaps, with one number at least."""
    number = _NUMBER[decimal].fullmatch
    found = False
    for field in fields:
        if number(field):
            found = True
        elif field.casefold() not in MISSING_WORDS:
            return False
    return found


def _dialect(lines: list[str]) -> tuple[str, Decimal]:
    """Choose delimiter and decimal sign: most rows of numbers, then most columns.

    A decimal comma is tried after the point, so "1,2" is two columns unless the heading
    says that there is only one.
    """
    probe = [line for line in lines if line.strip()][-_PROBE_LINES:]
    heads = [line for line in lines if line.strip()][:8]
    best: tuple[int, int, str, Decimal] = (0, 0, ",", ".")
    decimals: tuple[Decimal, Decimal] = (".", ",")
    for decimal in decimals:
        for delimiter in _DELIMITERS:
            if delimiter == decimal:
                continue
            rows = [row for line in probe if is_row(row := split(line, delimiter), decimal)]
            if not rows:
                continue
            width, count = Counter(map(len, rows)).most_common(1)[0]
            if (
                delimiter == ","
                and width == 2  # "0,5" may be one column with a decimal comma
                and not any(
                    len(split(head, ",")) > 1 for head in heads if not is_row(split(head, ","), ".")
                )
                and any(not is_row(split(head, ","), ".") for head in heads)
            ):
                continue
            if (count, width) > best[:2]:
                best = (count, width, delimiter, decimal)
    return best[2], best[3]


def _first_row(numeric: list[bool]) -> int | None:
    """Return the first line from which numbers follow on each other."""
    for i, good in enumerate(numeric):
        if good and (i + 1 >= len(numeric) or numeric[i + 1] or not any(numeric[i + 1 :])):
            return i
    return next((i for i, good in enumerate(numeric) if good), None)


def _headings(
    rows: list[list[str]], first: int, filled: list[bool]
) -> tuple[int, list[str], list[str]]:
    """Return where the headings begin, the names row and the units row (empty if none)."""
    needed = sum(filled)
    above: list[int] = []
    for i in range(first - 1, max(-1, first - 1 - _MOST_HEADING_LINES), -1):
        row = rows[i]
        if not any(row):
            continue
        if sum(bool(field) for field in row) < needed:
            break
        above.append(i)
    if not above:
        return first, [], []
    nearest = _uncommented(rows[above[0]])
    if _is_units(nearest, len(filled)):
        if len(above) > 1:
            return above[1], _uncommented(rows[above[1]]), nearest
        return above[0], [], nearest
    return above[0], nearest, []


def _uncommented(row: list[str]) -> list[str]:
    first = row[0].lstrip("#%").strip()
    # a comment sign that stands alone was split off as a field of its own
    return [first, *row[1:]] if first or not row[0] else row[1:]


def _is_units(row: list[str], width: int) -> bool:
    """Return whether every named field of the row is a unit."""
    fields = [field for field in row[:width] if field]
    return bool(fields) and all(read_title("signal", field).unit_known for field in fields)


def _at(fields: list[str], i: int) -> str:
    return fields[i] if i < len(fields) else ""


def _no_rows(rows: list[list[str]]) -> ReadError:
    if any(len(row) > 1 for row in rows):
        return ReadError(
            "The file has headings or text but no rows of numbers; "
            "record again or export the samples too."
        )
    return ReadError("The file is text without numbers; choose a recording saved as CSV or WAV.")
