"""Where a person says how a text is laid out: lines and columns held against the file."""

from collections.abc import Sequence
from dataclasses import replace

from shopdiag.people.core.words import say
from traces.core.readers.correction import TIME_UNITS, CorrectionError, TextCorrection
from traces.core.readers.text_names import ColumnName
from traces.core.readers.text_units import TIME_FACTORS


def said_first_row(said: TextCorrection, rows: Sequence[object], numeric: Sequence[bool]) -> int:
    """Return the place of the first row of numbers that a person named.

    Raises
    ------
    CorrectionError
        If there is no such line near the file's beginning, or it is no row of numbers.
    """
    line = said.first_row_line or 1
    _check_line(line, len(rows))
    if not numeric[line - 1]:
        raise CorrectionError(
            say(
                "Line {line} is no row of numbers with this delimiter and decimal sign; "
                "choose another line, or correct the two signs.",
                line=line,
            )
        )
    return line - 1


def check_heading(said: TextCorrection, rows: Sequence[object], first: int | None) -> None:
    """Hold the line of the headings against the file.

    Raises
    ------
    CorrectionError
        If there is no such line near the beginning, or no row of numbers follows it.
    """
    if said.heading_line:
        _check_line(said.heading_line, len(rows))
        if first is None:
            raise CorrectionError(
                say(
                    "No row of numbers follows the headings in line {heading_line}; choose "
                    "another line, or correct delimiter and decimal sign.",
                    heading_line=said.heading_line,
                )
            )


def said_clock(
    said: TextCorrection, columns: Sequence[ColumnName | None], guessed: int | None
) -> int | None:
    """Return the place of the column of times: as a person said, else as guessed.

    Raises
    ------
    CorrectionError
        If there is no such column, or it holds words; or a unit is given and no column.
    """
    if said.time_column == 0:
        return None
    if said.time_column is None:
        if guessed is None and said.time_unit is not None:
            raise CorrectionError(
                say("A unit of times is given, and no column of times was found; say which it is.")
            )
        return guessed
    if said.time_column > len(columns):
        raise CorrectionError(
            say(
                "There is no column {time_column} for the times; the rows have {count} "
                "with this delimiter.",
                time_column=said.time_column,
                count=len(columns),
            )
        )
    if columns[said.time_column - 1] is None:
        raise CorrectionError(
            say(
                "Column {time_column} holds no numbers and cannot be the times; choose another.",
                time_column=said.time_column,
            )
        )
    return said.time_column - 1


def as_clock(column: ColumnName, said: TextCorrection) -> ColumnName:
    """Return a column as the times, in the unit that a person said or the heading says."""
    if column.cells != "number":
        # each cell carries its unit, or is a time of day
        return replace(column, role="time", unit="s", time_factor=1.0)
    factor = column.time_factor
    if said.time_unit is not None:
        factor = TIME_FACTORS[said.time_unit]
    return replace(column, role="time", unit="s", time_factor=factor)


def time_unit_of(column: ColumnName | None) -> str | None:
    """Return the unit of a column of times, one of `TIME_UNITS`; None where it is not known."""
    if column is None or column.role != "time" or column.time_factor is None:
        return None
    return next((unit for unit in TIME_UNITS if TIME_FACTORS[unit] == column.time_factor), None)


def _check_line(line: int, lines: int) -> None:
    if line > lines:
        raise CorrectionError(
            say(
                "There is no line {line} at the beginning of this file, which has "
                "{lines} there; choose another.",
                line=line,
                lines=lines,
            )
        )
