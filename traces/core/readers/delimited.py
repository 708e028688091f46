"""Delimited text: CSV and its relatives, by structure, in blocks."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from shopdiag.people.core.words import Text, gettext_noop, say
from traces.core.readers.clock import Floats
from traces.core.readers.not_a_recording import is_foreign
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import NO_RATE, Source, refuse_channels
from traces.core.readers.shape import shape_and_layout
from traces.core.readers.stream import Block, Column, Stream
from traces.core.readers.text_dialect import encoding_of
from traces.core.readers.text_end import without_torn_end
from traces.core.readers.text_layout import TextLayout, layout_of
from traces.core.readers.text_names import ColumnName
from traces.core.readers.text_rows import RowParser, Tally, Values, encoding_of_blocks, text_blocks
from traces.core.readers.text_units import TIME_FACTORS
from traces.core.readers.timebase import ONE_ROW

_MOST_BAD_SHARE = 0.2
_DAY_S = 86_400.0


class DelimitedReader:
    """Text with columns: comma, semicolon, tab, bar or blanks; decimal point or comma."""

    format = gettext_noop("delimited text")

    def sniff(self, source: Source) -> bool:
        """Take whatever is text and not an obvious other document."""
        return not is_foreign(source.head) and encoding_of(source) is not None

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Find the layout, then give the rows.

        Raises
        ------
        ReadError
            If there are no rows of numbers, no signal beside the time, or too much is none.
        """
        shape, found = shape_and_layout(source)
        said = source.recall(shape) if source.recall else None
        # what was found before is found again where nothing is said
        layout = found if found and not said else layout_of(source, said.text if said else None)
        if layout.rows_probed < 2 and source.whole_in_head:
            raise ReadError(ONE_ROW)
        columns = _named(layout)
        signals = [c for c in columns.values() if c.role == "signal"]
        if not signals:
            raise ReadError(
                say("The file has a time column but no signal beside it; export the channels too.")
            )
        clock = layout.clock
        stream = Stream(
            format=self.format,
            columns=tuple(Column(c.name, c.unit) for c in signals),
            blocks=iter(()),
            t0_s=layout.preamble.start_s or 0.0,
            notes=list(layout.notes),
            index=clock is not None and columns[clock].role == "index",
            text=layout.facts,
            shape=shape,
        )
        stream.rate_hz = _rate_hz(
            source, layout, None if clock is None else columns[clock], stream.notes
        )
        stream.blocks = without_torn_end(
            _blocks(source, layout, columns, clock, stream), stream.notes
        )
        yield stream


def _named(layout: TextLayout) -> dict[int, ColumnName]:
    """Give every column in use a role; one is the clock, the others are signals."""
    columns: dict[int, ColumnName] = {}
    taken: set[str] = set()
    number = 0
    for i, column in enumerate(layout.columns):
        if i == layout.clock and column is not None:
            columns[i] = column
            continue
        if column is None or column.role in ("start", "increment"):
            continue
        number += 1
        name = column.name or str(number)
        while name.casefold() in taken:
            name = f"{name} ({number})"
        taken.add(name.casefold())
        unit = column.written_unit if column.role == "time" else column.unit
        if column.cells == "unit":
            unit = column.unit
        columns[i] = replace(column, name=name, role="signal", unit=unit)
    refuse_channels(number)
    return columns


def _blocks(
    source: Source,
    layout: TextLayout,
    columns: dict[int, ColumnName],
    clock: int | None,
    stream: Stream,
) -> Iterator[Block]:
    parser = RowParser(layout, columns, encoding_of_blocks(layout))
    signals = [i for i, c in columns.items() if c.role == "signal"]
    factor: float | None = None
    rows, last = 0, 0.0
    for text in text_blocks(source, layout):
        values = parser.parse(text)
        times = None
        if clock is not None:
            values = _with_times(values, clock, parser.tally)
            times = values[clock]
            if times.size == 0:
                continue
            if columns[clock].cells == "clock":
                times = _over_midnight(times, last if rows else float(times[0]))
                last = float(times[-1])
            if columns[clock].role == "time":
                factor = factor or _time_factor(columns[clock], layout, times, stream.notes)
                times = times if factor == 1.0 else times * factor
        found = np.stack([values[i] for i in signals])
        rows += found.shape[1]
        if found.shape[1]:
            yield Block(found, times)
    if rows == 0:
        raise ReadError(say("The file has headings but no rows of numbers; record again."))
    _take_stock(source, rows, parser.tally, stream.notes)


def _with_times(values: Values, clock: int, tally: Tally) -> Values:
    """Leave rows out that have no time: nobody can say where they belong."""
    keep = np.isfinite(values[clock])
    if keep.all():
        return values
    tally.dropped += int((~keep).sum())
    return {i: column[keep] for i, column in values.items()}


def _over_midnight(seconds: Floats, last_s: float) -> Floats:
    """Count a time of day on over midnight."""
    days = np.cumsum(np.diff(seconds, prepend=last_s % _DAY_S) < -_DAY_S / 2)
    return np.asarray(seconds + _DAY_S * (days + np.floor(last_s / _DAY_S)))


def _time_factor(column: ColumnName, layout: TextLayout, times: Floats, notes: list[Text]) -> float:
    """Return what turns the time column into seconds.

    Where the column gives no unit, the rate that the file's own words state may tell it.
    """
    stated_hz = layout.preamble.rate_hz
    step = float(np.median(np.diff(times))) if times.size > 1 else 0.0
    if column.time_factor is not None:
        said = (stated_hz or 0.0) * step * column.time_factor
        if said and not 0.98 < said < 1.02:
            notes.append(
                say(
                    "The heading says {stated_hz} Hz and the time column {times_hz} Hz; "
                    "the time column is taken.",
                    stated_hz=f"{stated_hz:g}",
                    times_hz=f"{1 / (step * column.time_factor):.6g}",
                )
            )
        return column.time_factor
    if stated_hz and step > 0:
        for unit in ("s", "ms", "us", "ns"):
            if 0.98 < stated_hz * step * TIME_FACTORS[unit] < 1.02:
                notes.append(
                    say(
                        "The time column gives no unit; with the stated rate it is read as {unit}.",
                        unit=unit,
                    )
                )
                return TIME_FACTORS[unit]
    notes.append(say("The time column gives no unit; it is read as seconds."))
    return 1.0


def _rate_hz(
    source: Source, layout: TextLayout, clock: ColumnName | None, notes: list[Text]
) -> float | None:
    """Return the rate where no time column gives it."""
    if clock is not None and clock.role == "time":
        return None
    stated_hz = layout.preamble.rate_hz
    rate_hz = stated_hz or source.rate_hz
    if rate_hz is None:
        notes.append(NO_RATE)
        return None
    said = say("the file's own heading") if stated_hz else say("the set-up")
    notes.append(
        say("There is no time column; the sample rate is taken from {source}.", source=said)
    )
    return rate_hz


def _take_stock(source: Source, rows: int, tally: Tally, notes: list[Text]) -> None:
    """Say what was left out, and refuse where that is too much.

    Raises
    ------
    ReadError
        If every fifth row or more is none.
    """
    bad = tally.dropped + tally.torn + tally.words
    if bad > _MOST_BAD_SHARE * (rows + tally.dropped + tally.torn):
        raise ReadError(
            say("{bad} fields or rows are not numbers; export the recording again.", bad=bad)
        )
    if bad:
        notes.append(say("{bad} fields or rows were not numbers and are left out.", bad=bad))
    if tally.short:
        notes.append(
            say("{short} rows end early; what they lack is left as gaps.", short=tally.short)
        )
    if tally.over:
        notes.append(
            say("{over} values are marked as out of range and are left as gaps.", over=tally.over)
        )
    if not _ends_with_newline(source):
        notes.append(
            say("The last line is not closed; the file may have been cut off while saving.")
        )


def _ends_with_newline(source: Source) -> bool:
    with source.path.open("rb") as file:
        file.seek(max(0, source.size - 4))
        # characters of two or four bytes have zeros behind
        return file.read().rstrip(b"\0").endswith((b"\n", b"\r"))
