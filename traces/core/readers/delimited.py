"""Delimited text: CSV and its relatives, read in chunks."""

import io
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from traces.core.readers.foreign import is_foreign
from traces.core.readers.recording import ReadError, Recording, Source, refuse_too_many
from traces.core.readers.text_layout import MISSING_WORDS, Layout, encoding_of, layout_of
from traces.core.readers.text_names import ColumnName
from traces.core.readers.timebase import TimeBase, time_base
from traces.core.waveform import Channel

_CHUNK_ROWS = 500_000
_MOST_BAD_SHARE = 0.2
_MOST_CHANNELS = 64
_LARGEST = float(np.finfo(np.float32).max)
_ONE_ROW = "There is only one row of numbers; a recording needs many, so export the samples too."


class DelimitedReader:
    """Text with columns: comma, semicolon, tab, bar or blanks; decimal point or comma."""

    format = "delimited text"

    def sniff(self, source: Source) -> bool:
        """Take whatever is text and not an obvious other document."""
        return not is_foreign(source.head) and encoding_of(source) is not None

    def read(self, source: Source) -> Recording:
        """Read all rows.

        Raises
        ------
        ReadError
            If there are no rows of numbers, no signal beside the time, or time does not rise.
        """
        layout = layout_of(source)
        if layout.rows_probed < 2 and source.whole_in_head:
            raise ReadError(_ONE_ROW)
        columns = _named(layout)
        if not any(column.role == "signal" for column in columns.values()):
            raise ReadError(
                "The file has a time column but no signal beside it; export the channels too."
            )
        rows = _collect(_chunks(source, layout), columns)
        return _assemble(source, layout, columns, rows)


@dataclass(slots=True)
class _Rows:
    """Columns as they grow chunk by chunk."""

    parts: dict[int, list[NDArray[np.float32]]] = field(default_factory=dict)
    times: list[NDArray[np.float64]] = field(default_factory=list)
    count: int = 0
    bad_rows: int = 0
    bad_fields: int = 0


def _named(layout: Layout) -> dict[int, ColumnName]:
    """Give every column in use a role; the first column is time where it has to be."""
    columns: dict[int, ColumnName] = {}
    taken: set[str] = set()
    number = 0
    for i, column in enumerate(layout.columns):
        if column is None or column.role in ("start", "increment"):
            continue
        role = column.role
        if role == "time" and any(c.role == "time" for c in columns.values()):
            role = "signal"
        if role == "index" and i > 0:
            role = "signal"
        if role == "signal":
            number += 1
        name = column.name or str(number)
        while role == "signal" and name.casefold() in taken:
            name = f"{name} ({number})"
        if role == "signal":
            taken.add(name.casefold())
        columns[i] = ColumnName(name, role, column.unit, column.time_factor)
    if number > _MOST_CHANNELS:
        raise ReadError(
            f"The file has {number} channels; at most {_MOST_CHANNELS} can be read, "
            "so export fewer."
        )
    return columns


def _chunks(source: Source, layout: Layout) -> Iterator[pd.DataFrame]:
    """Yield the rows in chunks; a column is numeric or, where words stand in it, text.

    One column more than the layout has catches rows that are too long.
    """
    with source.path.open("r", encoding=layout.encoding, errors="replace", newline="") as raw:
        frames = pd.read_csv(
            _after_lines(raw, layout.first_row_idx),
            sep=r"\s+" if layout.delimiter == " " else layout.delimiter,
            decimal=layout.decimal,
            header=None,
            names=list(range(len(layout.columns) + 1)),
            index_col=False,
            skipinitialspace=True,
            skip_blank_lines=True,
            na_values=[word for word in MISSING_WORDS if word],
            chunksize=_CHUNK_ROWS,
            engine="c",
            low_memory=False,
        )
        try:
            yield from frames
        except (pd.errors.EmptyDataError, pd.errors.ParserError):
            raise ReadError(
                "The rows of numbers cannot be told apart; export the recording again as CSV."
            ) from None


def _after_lines(raw: io.TextIOWrapper, lines: int) -> io.TextIOWrapper:
    for _ in range(lines):
        raw.readline()
    return raw


def _collect(frames: Iterator[pd.DataFrame], columns: dict[int, ColumnName]) -> _Rows:
    rows = _Rows(parts={i: [] for i, c in columns.items() if c.role == "signal"})
    clock = next((i for i, c in columns.items() if c.role in ("time", "index")), None)
    for whole in frames:
        too_long = whole.iloc[:, -1].notna()
        rows.bad_rows += int(too_long.sum())
        frame = whole[~too_long] if too_long.any() else whole
        values = {i: _numbers(frame[i], rows) for i in columns}
        keep = np.ones(len(frame), dtype=bool)
        if clock is not None:
            keep = np.isfinite(values[clock])
            rows.times.append(values[clock][keep])
        elif rows.parts:
            # a row with nothing in it is a remark or a torn line, unless gaps are the rule
            keep = ~np.all([np.isnan(values[i]) for i in rows.parts], axis=0)
        for i in rows.parts:
            rows.parts[i].append(values[i][keep].astype(np.float32))
        rows.count += int(keep.sum())
        refuse_too_many(rows.count * max(1, len(rows.parts)))
        rows.bad_rows += int((~keep).sum())
    return rows


def _numbers(column: "pd.Series[float]", rows: _Rows) -> NDArray[np.float64]:
    """Return a column as numbers; what is none becomes NaN and is counted."""
    if pd.api.types.is_numeric_dtype(column) or pd.api.types.is_bool_dtype(column):
        values = column.to_numpy(dtype=np.float64, na_value=np.nan)
    else:
        text = column.astype("string").str.strip().str.replace(",", ".", regex=False)
        values = pd.to_numeric(text, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
        rows.bad_fields += int((np.isnan(values) & column.notna().to_numpy()).sum())
    # Also what a 32-bit sample cannot hold; times keep all their digits.
    return np.where(np.abs(values) <= _LARGEST, values, np.nan)


def _assemble(
    source: Source, layout: Layout, columns: dict[int, ColumnName], rows: _Rows
) -> Recording:
    if rows.count == 0:
        raise ReadError("The file has headings but no rows of numbers; record again.")
    if rows.bad_rows + rows.bad_fields > _MOST_BAD_SHARE * (rows.count + rows.bad_rows):
        raise ReadError(
            f"{rows.bad_rows + rows.bad_fields} fields or rows are not numbers; "
            "export the recording again."
        )
    notes: list[str] = []
    base = _base(source, layout, columns, rows, notes)
    if rows.bad_rows or rows.bad_fields:
        notes.append(
            f"{rows.bad_rows + rows.bad_fields} fields or rows were not numbers and are left out."
        )
    if not _ends_with_newline(source):
        notes.append("The last line is not closed; the file may have been cut off while saving.")
    channels = []
    for i, parts in rows.parts.items():
        values = np.concatenate(parts)
        channels.append(
            Channel(columns[i].name, columns[i].unit, base.place(values) if base else values)
        )
    return Recording(
        format=DelimitedReader.format,
        channels=tuple(channels),
        t0_s=base.t0_s if base else layout.preamble.start_s or 0.0,
        rate_hz=base.rate_hz if base else None,
        uniform=base.uniform if base else True,
        notes=tuple(notes),
    )


def _base(
    source: Source,
    layout: Layout,
    columns: dict[int, ColumnName],
    rows: _Rows,
    notes: list[str],
) -> TimeBase | None:
    """Return the time base, or None where nobody says the rate."""
    clock = next((c for c in columns.values() if c.role in ("time", "index")), None)
    stated_hz = layout.preamble.rate_hz
    if clock is not None and clock.role == "time":
        factor = clock.time_factor
        if factor is None:
            factor = 1.0
            notes.append("The time column gives no unit; it is read as seconds.")
        base = time_base(np.concatenate(rows.times) * factor)
        if not base.uniform:
            notes.append("The time steps are uneven; values were put on an even grid.")
        elif base.samples > rows.count:
            notes.append(f"{base.samples - rows.count} rows are missing from the even time steps.")
        return base
    if rows.count < 2:
        raise ReadError(_ONE_ROW)
    rate_hz = stated_hz or source.rate_hz
    if rate_hz is None:
        notes.append("The file gives neither times nor a sample rate.")
        return None
    said = "the file's own heading" if stated_hz else "the set-up"
    notes.append(f"There is no time column; the sample rate is taken from {said}.")
    return TimeBase(layout.preamble.start_s or 0.0, rate_hz, rows.count)


def _ends_with_newline(source: Source) -> bool:
    with source.path.open("rb") as file:
        file.seek(max(0, source.size - 4))
        return any(byte in file.read() for byte in (b"\n", b"\r"))
