"""Rows of numbers from delimited text, block by block, each block by the quickest way it allows."""

import codecs
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Source
from traces.core.readers.text_cells import (
    BLANK_GROUPS,
    MISSING_WORDS,
    OVER_WORDS,
    Numbers,
    seconds_of_day,
)
from traces.core.readers.text_dialect import Dialect
from traces.core.readers.text_layout import TextLayout
from traces.core.readers.text_names import ColumnName
from traces.core.readers.text_units import TIME_FACTORS, UNIT_FACTORS

BLOCK_BYTES = 2 << 20
_LARGEST_KEPT_BYTES = 30 << 20
_LINE_ENDS = re.compile(r"\r\n|\r|\n")
_REMARK_SIGNS = ("#", "%", "//", ";;", "!")
_NO_LINE = say(
    "The rows of numbers cannot be told apart: there is a line of more than "
    "a million characters; export the recording again as CSV."
)

Values: TypeAlias = dict[int, NDArray[Any]]


@dataclass(slots=True)
class Tally:
    """What was found among the rows beside good numbers."""

    dropped: int = 0
    """Lines that are no rows at all, left out."""
    torn: int = 0
    """Rows with too many cells: which one is too much nobody knows."""
    short: int = 0
    """Rows that end early."""
    words: int = 0
    """Cells that hold a word where a number belongs."""
    over: int = 0
    """Cells that hold the mark of a value out of range."""


@dataclass(slots=True)
class RowParser:
    """Turns blocks of text into columns of numbers.

    Three ways, quickest first: bare numbers and nothing else; numbers and blank cells; cell
    by cell. A way is left when a block does not go through it, so that no cell is ever
    guessed at: the quick ways fail on whatever is not plainly a number, and the number of
    delimiters must fit the number of rows.

    Parameters
    ----------
    layout
        Of the file.
    columns
        Those to be read, by place.
    encoding
        Of the blocks.
    """

    layout: TextLayout
    columns: dict[int, ColumnName]
    encoding: str
    tally: Tally = field(default_factory=Tally)
    _blanks_seen: bool = False
    _careful: bool = False

    def __post_init__(self) -> None:
        dressed = any(column.cells != "number" for column in self.columns.values())
        self._careful = dressed or self.layout.dialect.rule != "bare"

    def parse(self, block: memoryview) -> Values:
        """Return the block's columns: float64 for times, float32 for signals."""
        if not self._careful:
            quick = self._grouped(block)
            if quick is not None:
                for blanks in (False, True):
                    if blanks >= self._blanks_seen:
                        found = self._quick(quick, blanks=blanks)
                        if found is not None:
                            self._blanks_seen = blanks
                            return found
        return self._cell_by_cell(block)

    def _grouped(self, block: memoryview) -> memoryview | None:
        """Take the signs between groups of digits out; None where they part something else."""
        sign = self.layout.dialect.numbers.thousands
        if not sign:
            return block
        text = bytes(block).decode(self.encoding, errors="replace")
        signs = BLANK_GROUPS if sign == " " else "'’" if sign == "'" else sign
        if re.search(rf"[0-9][{re.escape(signs)}](?![0-9]{{3}}(?![0-9]))", text):
            return None
        for one in signs:
            text = text.replace(one, "")
        return memoryview(text.encode(self.encoding, errors="replace"))

    def _quick(self, block: memoryview, *, blanks: bool) -> Values | None:
        import pandas as pd  # noqa: PLC0415  # half as long to load as all else; many files need none

        dialect, width = self.layout.dialect, len(self.layout.columns)
        if dialect.delimiter == dialect.numbers.decimal:
            return None
        quoted = bool((np.frombuffer(block, dtype=np.uint8) == ord('"')).any())
        try:
            with np.errstate(over="ignore"):
                frame = pd.read_csv(
                    _Bytes(block),  # type: ignore[call-overload]
                    sep=r"\s+" if dialect.delimiter == " " else dialect.delimiter,
                    decimal=dialect.numbers.decimal,
                    header=None,
                    names=list(range(width)),
                    usecols=list(self.columns),
                    index_col=False,
                    dtype={i: self._dtype(i) for i in self.columns},
                    # slow, and numbers need it only where quotes follow a blank
                    skipinitialspace=blanks or quoted,
                    na_filter=blanks,
                    na_values=_NA_WORDS if blanks else None,
                    keep_default_na=False,
                    engine="c",
                    low_memory=False,  # a block is small; in pieces it takes a twentieth longer
                )
        except (ValueError, OverflowError, pd.errors.EmptyDataError):
            return None
        # A short row fails where every cell must be a number; then the sum tells the long ones.
        each = blanks or len(self.columns) < width
        if not _fits(block, dialect.delimiter, len(frame), width, each=each):
            return None
        return {i: frame[i].to_numpy() for i in self.columns}

    def _dtype(self, i: int) -> type[np.float32 | np.float64]:
        return np.float32 if self.columns[i].role == "signal" else np.float64

    def _cell_by_cell(self, block: memoryview) -> Values:
        text = bytes(block).decode(self.encoding, errors="replace")
        dialect, width = self.layout.dialect, len(self.layout.columns)
        cells: dict[int, list[float]] = {i: [] for i in self.columns}
        readers = {i: _CellReader(self.columns[i], dialect.numbers, self.tally) for i in cells}
        last = max(cells)
        timed = any(self.columns[i].role != "signal" for i in cells)
        for line in _LINE_ENDS.split(text):
            row = self._row(line, dialect)
            if row is None:
                continue
            whole = len(row) <= width or not any(row[width:])
            self.tally.torn += not whole
            self.tally.short += len(row) <= last
            if not whole and timed:
                continue
            for i, found in cells.items():
                found.append(readers[i](row[i]) if whole and i < len(row) else np.nan)
        return {i: _array(found, self._dtype(i)) for i, found in cells.items()}

    def _row(self, line: str, dialect: Dialect) -> list[str] | None:
        """Return a line's cells, or None for a line that is no row."""
        if not line.strip():
            return None
        row = dialect.split(line)
        if line.lstrip().startswith(_REMARK_SIGNS) or not self._has_figure(row):
            self.tally.dropped += 1
            return None
        return row

    def _has_figure(self, row: Sequence[str]) -> bool:
        """Return whether a line is a row at all: there is a cell of it that belongs in one.

        A word alone is a remark; a row of gaps keeps its place, or what follows would move.
        """
        kinds = [self.layout.dialect.numbers.kind(cell) for cell in row]
        if any(kind in ("number", "unit", "clock", "over") for kind in kinds):
            return True
        return len(row) >= len(self.columns) and "missing" in kinds and "word" not in kinds


_NA_WORDS = [
    form
    for word in (*MISSING_WORDS, "NaN", "Nan", "NA", "N/A", "NULL", "Null", "None")
    for form in dict.fromkeys((word, word.upper()))
]


class _CellReader:
    """Reads the cells of one column, and counts what is none."""

    def __init__(self, column: ColumnName, numbers: Numbers, tally: Tally) -> None:
        self._column = column
        self._numbers = numbers
        self._tally = tally

    def __call__(self, text: str) -> float:
        column = self._column
        value = self._numbers.value(text) if column.cells != "clock" else seconds_of_day(text)
        if value is None and column.cells == "unit":
            value = self._with_unit(text)
        if value is not None:
            return value
        folded = text.casefold()
        if folded in MISSING_WORDS:
            return np.nan
        if folded in OVER_WORDS or self._numbers.kind(text) == "over":
            self._tally.over += 1
        else:
            self._tally.words += 1
        return np.nan

    def _with_unit(self, text: str) -> float | None:
        found = self._numbers.value_with_unit(text)
        if found is None:
            return None
        value, unit = found
        base, factor = UNIT_FACTORS[unit.casefold()] if unit else (None, 1.0)
        if self._column.role == "time":
            factor = TIME_FACTORS.get(unit.casefold(), np.nan)
        elif base != self._column.unit:
            return None
        return value * factor


class _Bytes:
    """A block as pandas reads it: as bytes, without a decoder in between."""

    def __init__(self, block: memoryview) -> None:
        self._block = block
        self._at = 0

    def read(self, size: int = -1) -> bytes:
        upto = len(self._block) if size < 0 else self._at + size
        part = bytes(self._block[self._at : upto])
        self._at += len(part)
        return part

    def __iter__(self) -> Iterator[bytes]:
        yield self.read()


def _array(values: list[float], dtype: type[np.float32 | np.float64]) -> NDArray[Any]:
    with np.errstate(over="ignore"):
        return np.array(values, dtype=np.float64).astype(dtype)


def _fits(block: memoryview, delimiter: str, rows: int, width: int, *, each: bool) -> bool:
    """Return whether rows have as many cells as they should.

    Parameters
    ----------
    each
        Look at every row by itself, not only at their sum.
    """
    codes = np.frombuffer(block, dtype=np.uint8)
    if delimiter != " " and not each:
        return int(np.count_nonzero(codes == ord(delimiter))) == rows * (width - 1)
    end = (codes == 10) | (codes == 13)
    blank = (codes == 32) | (codes == 9)
    word = ~(end | blank)
    # a run of blanks parts two words where there is one on either side
    parts = np.flatnonzero(codes == ord(delimiter) if delimiter != " " else _starts(word))
    ends = np.concatenate((np.flatnonzero(end), [codes.size]))
    words = np.diff(np.searchsorted(np.flatnonzero(word), ends), prepend=0) > 0
    counts = np.diff(np.searchsorted(parts, ends), prepend=0)[words]
    wanted = width if delimiter == " " else width - 1
    return counts.size == rows and bool((counts == wanted).all())


def _starts(word: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return word & ~np.concatenate(([False], word[:-1]))


def text_blocks(source: Source, layout: TextLayout) -> Iterator[memoryview]:
    """Yield the rows' text in blocks of whole lines; good only until the next is asked for.

    Text of two or four bytes a character comes as UTF-8.
    """
    _keep_freed_memory()
    with source.path.open("rb", buffering=0) as raw:
        file: io.RawIOBase = raw
        if layout.encoding.startswith(("utf-16", "utf-32")):
            file = _Recoded(raw, layout.encoding)
        yield from _rows_of(file, layout.first_row_idx)


def _keep_freed_memory() -> None:
    """Have glibc reuse what a block leaves free; it would give it back and fetch it anew.

    It adapts its threshold to the largest piece that was ever freed (mallopt(3), M_MMAP_THRESHOLD
    and M_TRIM_THRESHOLD); this piece is never touched, so it costs nothing. Reading takes a
    fifth less time.
    """
    np.empty(_LARGEST_KEPT_BYTES, dtype=np.uint8)


def encoding_of_blocks(layout: TextLayout) -> str:
    """Return the encoding of what `text_blocks` yields."""
    return "cp1252" if layout.encoding == "cp1252" else "utf-8"


def _rows_of(file: io.RawIOBase, lines_before: int) -> Iterator[memoryview]:
    buffer = bytearray(BLOCK_BYTES)
    view = memoryview(buffer)
    held = 0
    skip = lines_before
    while True:
        count = file.readinto(view[held:])
        end = held + (count or 0)
        if not count:
            if end and not skip:
                yield view[:end]
            return
        start, skip = _after_lines(buffer, end, skip, ended=False)
        cut = 0 if skip else _cut(buffer, start, end)
        if cut > start:
            yield view[start:cut]
        kept = max(cut, start)
        held = end - kept
        if held == len(buffer):
            raise ReadError(_NO_LINE)
        buffer[:held] = bytes(view[kept:end])


def _cut(buffer: bytearray, start: int, end: int) -> int:
    """Return where the last whole line ends; a lone carriage return may be one."""
    cut = buffer.rfind(b"\n", start, end)
    if cut < 0:
        # the last byte may be half of a pair
        cut = buffer.rfind(b"\r", start, end - 1)
    return cut + 1


def _after_lines(buffer: bytearray, end: int, lines: int, *, ended: bool) -> tuple[int, int]:
    """Return where the text behind so many lines starts, and how many are still to be skipped."""
    at = 0
    while lines:
        feed, turn = buffer.find(b"\n", at, end), buffer.find(b"\r", at, end)
        if feed < 0 and (turn < 0 or (turn == end - 1 and not ended)):
            return at, lines
        if turn >= 0 and (feed < 0 or turn < feed):
            at = turn + (2 if turn + 1 == feed else 1)
        else:
            at = feed + 1
        lines -= 1
    return at, 0


class _Recoded(io.RawIOBase):
    """Text of two or four bytes a character, as UTF-8."""

    def __init__(self, raw: io.RawIOBase, encoding: str) -> None:
        self._raw = raw
        self._decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
        self._ready = b""

    def readinto(self, into: Any) -> int:  # noqa: ANN401 - a writable buffer
        view = memoryview(into)
        while not self._ready:
            part = self._raw.read(BLOCK_BYTES // 8)
            text = self._decoder.decode(part or b"", final=not part)
            self._ready = text.encode("utf-8", errors="replace")
            if not part:
                break
        taken = self._ready[: len(view)]
        view[: len(taken)] = taken
        self._ready = self._ready[len(taken) :]
        return len(taken)
