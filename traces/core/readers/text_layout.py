"""How a delimited text file is laid out, found from its first lines."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from shopdiag.people.core.words import Text, say
from traces.core.readers.correction import TextCorrection
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Source
from traces.core.readers.text_cells import Kind
from traces.core.readers.text_corrected import (
    as_clock,
    check_heading,
    said_clock,
    said_first_row,
    time_unit_of,
)
from traces.core.readers.text_dialect import (
    PROBE_LINES,
    Dialect,
    TypedSigns,
    dialect_of,
    encoding_of,
)
from traces.core.readers.text_facts import TextFacts, shown_columns, shown_lines
from traces.core.readers.text_headings import headings, said_headings, with_stated_units
from traces.core.readers.text_names import ColumnName, Preamble, read_preamble, read_title
from traces.core.readers.text_units import TIME_FACTORS, UNIT_FACTORS

_FEWEST_TIMES = 12  # rows that rise before a first column without a name is taken for times


@dataclass(frozen=True, slots=True)
class TextLayout:
    """What it takes to read the rows.

    Parameters
    ----------
    encoding, dialect
        Of the text.
    headings_idx, first_row_idx
        0-based lines where headings and rows of numbers begin; the same without headings.
    columns
        One per column of the rows, left to right; None for a column that is not read.
    preamble
        What lines above the headings say about rate and start.
    rows_probed
        Rows of numbers in the part looked at.
    clock
        Which column tells the rows' time or number; None where none does.
    facts
        The same in words and figures for a person.
    notes
        What was assumed, one sentence each.
    """

    encoding: str
    dialect: Dialect
    headings_idx: int
    first_row_idx: int
    columns: tuple[ColumnName | None, ...]
    preamble: Preamble
    rows_probed: int
    clock: int | None
    facts: TextFacts
    notes: tuple[Text, ...] = ()


def lines_of(source: Source) -> tuple[str, list[str]]:
    """Return a text's encoding, and the lines of its head.

    Raises
    ------
    ReadError
        If it is not text.
    """
    encoding = encoding_of(source)
    if encoding is None:
        raise ReadError(say("The file is not text; save the recording as CSV or WAV."))
    text = source.head.decode(encoding, errors="replace")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not source.whole_in_head and len(lines) > 1:
        lines.pop()  # cut by the end of the head
    return encoding, lines


def layout_of(source: Source, said: TextCorrection | None = None) -> TextLayout:
    """Work out delimiter, decimal sign, headings and where the numbers begin.

    Parameters
    ----------
    said
        What a person says about it; the rest is found with that in mind.

    Raises
    ------
    ReadError
        If there are no rows of numbers, the comma does two things at once, or what is said
        does not fit.
    """
    said = said or TextCorrection()
    encoding, lines = lines_of(source)
    dialect = dialect_of(lines, TypedSigns(said.delimiter, said.decimal))
    rows = [dialect.split(line) for line in lines]
    numeric = [dialect.is_row(row) for row in rows]
    if said.first_row_line is not None:
        first: int | None = said_first_row(said, rows, numeric)
    else:
        first = _first_row(rows, numeric, said.heading_line or 0)
        check_heading(said, rows, first)
    if first is None:
        raise _no_rows(rows)
    body = [row for row, good in zip(rows[first:], numeric[first:], strict=True) if good]
    width = Counter(len(row) for row in body[:PROBE_LINES]).most_common(1)[0][0]
    body = [row for row in body[:PROBE_LINES] if len(row) == width]
    filled = [any(row[i] for row in body) for i in range(width)]
    while filled and not filled[-1]:
        filled.pop()  # a delimiter closes each row
    if said.heading_line is None:
        heading_at, names, units = headings(rows, first, filled)
    else:
        heading_at, names, units = said_headings(said.heading_line, rows, first, len(filled))
    if said.delimiter is None:
        _refuse_two_commas(dialect, rows[:first], names, len(filled))
    filled += [False] * (_columns_named(names, units, width) - len(filled))
    preamble = read_preamble(lines[:heading_at], names, units, len(filled))
    columns = [
        read_title(_at(names, i), _at(units, i)) if i < len(filled) else None for i in range(width)
    ]
    above = lines[: min(first, heading_at + 1)]
    columns = with_stated_units(columns, above, dialect.delimiter)
    notes: list[Text] = []
    if dialect.rule != "bare":
        columns = [_dressed(column, i, body, dialect, notes) for i, column in enumerate(columns)]
    columns[0] = _with_clock_first(columns[0], names, sum(filled), body, dialect)
    if said.decimal is None and _commas_may_be_groups(dialect, body):
        notes.append(say("Commas are read as decimal signs, so 1,234 is a little over one."))
    clock = said_clock(said, columns, _clock_of(columns))
    times = None if clock is None else columns[clock]
    if clock is not None and times is not None and said.is_about_time:
        columns[clock] = times = as_clock(times, said)
    timed = times is not None and times.role == "time"
    return TextLayout(
        encoding=encoding,
        dialect=dialect,
        headings_idx=heading_at,
        first_row_idx=first,
        columns=tuple(columns),
        preamble=preamble,
        rows_probed=sum(numeric[first:]),
        clock=clock,
        facts=TextFacts(
            lines=shown_lines(lines, first),
            delimiter=dialect.delimiter,
            decimal=dialect.numbers.decimal,
            heading_line=heading_at + 1 if names else None,
            first_row_line=first + 1,
            columns=shown_columns([_at(names, i) for i in range(len(filled))]),
            time_column=clock + 1 if clock is not None and timed else None,
            time_unit=time_unit_of(times),
        ),
        notes=tuple(notes),
    )


def _clock_of(columns: Sequence[ColumnName | None]) -> int | None:
    """Return which column tells the rows' time or number."""
    there = [(i, c) for i, c in enumerate(columns) if c is not None]
    for wanted in (
        [i for i, c in there if c.role == "time" and c.named_time],
        [i for i, c in there if c.role == "time" and (i == 0 or c.cells == "clock")],
        [i for i, c in there if c.role == "index" and i == 0],
        [i for i, c in there if c.role == "time"],
    ):
        if wanted:
            return wanted[0]
    return None


def _first_row(
    rows: Sequence[Sequence[str]], numeric: Sequence[bool], lines_above: int
) -> int | None:
    """Return the first line, as wide as most, from which numbers follow on each other."""
    below = list(zip(rows, numeric, strict=True))[lines_above:]
    widths = Counter(len(row) for row, good in below if good)
    if not widths:
        return None
    usual = widths.most_common(1)[0][0]
    filled = [i for i, row in enumerate(rows) if any(row) and i >= lines_above]
    found = [i for i in filled if numeric[i] and len(rows[i]) == usual]
    follows = {i for i, later in pairwise(filled) if numeric[later]}
    return next((i for i in found if i in follows), found[0])


def _dressed(
    column: ColumnName | None,
    i: int,
    body: Sequence[Sequence[str]],
    dialect: Dialect,
    notes: list[Text],
) -> ColumnName | None:
    """Say what stands in a column's cells where they are not all bare numbers."""
    if column is None:
        return None
    kinds = Counter(dialect.numbers.kind(row[i]) for row in body)
    if kinds["word"] > len(body) // 2:
        notes.append(say("Column “{name}” holds words and is left out.", name=column.name or i + 1))
        return None
    most: Kind = max(("number", "unit", "clock"), key=lambda kind: kinds[kind])
    if most == "clock":
        return replace(column, role="time", unit="s", time_factor=1.0, cells="clock")
    if most == "unit":
        cells = (dialect.numbers.value_with_unit(row[i]) for row in body)
        word = next((found[1] for found in cells if found and found[1]), "").casefold()
        base = UNIT_FACTORS[word][0] if word else None
        if word in TIME_FACTORS and (column.role == "time" or (i == 0 and _rises(body, dialect))):
            return replace(column, role="time", unit="s", time_factor=1.0, cells="unit")
        return replace(column, unit=base, cells="unit")
    return column


def _rises(body: Sequence[Sequence[str]], dialect: Dialect) -> bool:
    """Return whether the first column's times rise all the way, whatever its name."""
    cells = (dialect.numbers.value_with_unit(row[0]) for row in body)
    times = [value * TIME_FACTORS.get(unit.casefold(), 1.0) for value, unit in filter(None, cells)]
    return len(times) > 1 and all(value < later for value, later in pairwise(times))


def _with_clock_first(
    column: ColumnName | None,
    names: Sequence[str],
    filled: int,
    body: Sequence[Sequence[str]],
    dialect: Dialect,
) -> ColumnName | None:
    """Return the first column, told as times or numbers where it has no name and rises."""
    if column is None or _at(names, 0):
        return column
    bare = column.role == "signal" and not column.unit
    if names or (filled > 1 and bare and len(body) >= _FEWEST_TIMES):
        return _unnamed_first(column, [row[0] for row in body], dialect)
    return column


def _unnamed_first(column: ColumnName, cells: Sequence[str], dialect: Dialect) -> ColumnName:
    """Say what a first column without a name is, beside others.

    Whole numbers that rise by one count the rows; what rises in another way is time.
    """
    values = [dialect.numbers.value(cell) for cell in cells]
    steps = [
        later - value
        for value, later in pairwise(values)
        if value is not None and later is not None
    ]
    if not steps or min(steps) <= 0 or column.cells != "number":
        return column
    if all(step == 1 for step in steps):
        return replace(column, role="index", unit=None)
    return replace(column, role="time", unit="s")


def _refuse_two_commas(
    dialect: Dialect, above: Sequence[Sequence[str]], names: Sequence[str], width: int
) -> None:
    """Refuse "0,5,1,25" under "Time,A": the comma parts columns and numbers alike.

    Raises
    ------
    ReadError
        If the headings have about half as many cells as the rows.
    """
    if dialect.delimiter != "," or names:
        return
    heading = next((row for row in reversed(above) if any(row)), [])
    while heading and not heading[-1]:
        heading = heading[:-1]
    if not 2 <= len(heading) < width <= 2 * len(heading):
        return
    titles = [read_title(cell, "") for cell in heading]
    if any(title.role == "time" or title.unit_known for title in titles):
        raise ReadError(
            say(
                "The comma parts the columns and is the decimal sign too; export the "
                "recording again with semicolons or tabs between the columns."
            )
        )


def _commas_may_be_groups(dialect: Dialect, body: Sequence[Sequence[str]]) -> bool:
    """Return whether every comma has three digits behind it, as between groups of digits."""
    if dialect.numbers.decimal != "," or dialect.numbers.thousands:
        return False
    parts = [cell.partition(",")[::2] for row in body for cell in row if "," in cell]
    return bool(parts) and all(
        len(after) == 3 and before.lstrip("+-") not in ("", "0") for before, after in parts
    )


def _at(fields: Sequence[str], i: int) -> str:
    return fields[i] if i < len(fields) else ""


def _columns_named(names: Sequence[str], units: Sequence[str], width: int) -> int:
    """Return up to which column the headings reach: a channel is kept though it is empty."""
    named = [i for i in range(width) if _at(names, i) or _at(units, i)]
    # "Start" and "Increment" hold no values of their own in the rows
    channels = [
        i for i in named if read_title(_at(names, i), "").role not in ("start", "increment")
    ]
    return max(channels, default=-1) + 1


def _no_rows(rows: list[list[str]]) -> ReadError:
    if any(len(row) > 1 for row in rows):
        return ReadError(
            say(
                "The file has headings or text but no rows of numbers; record again or "
                "export the samples too."
            )
        )
    return ReadError(
        say("The file is text without numbers; choose a recording saved as CSV or WAV.")
    )
