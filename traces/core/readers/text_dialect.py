"""How a text is written: encoding, delimiter, decimal sign, groups of digits."""

import codecs
import csv
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from traces.core.readers.recording import Source
from traces.core.readers.text_cells import Numbers

RowRule: TypeAlias = Literal["bare", "dressed", "worded"]
"""What rows hold: bare numbers; numbers with units or times of day; words in some columns."""

_DELIMITERS = ("\t", ";", ",", "|", " ")
_GROUPED = (
    Numbers(".", " "), Numbers(",", " "), Numbers(".", ","), Numbers(",", "."), Numbers(".", "'"),
    Numbers(",", "'"),
)  # fmt: skip
_PLAIN = (Numbers("."), Numbers(","))
_CONTROL_BYTES = bytes(set(range(32)) - {9, 10, 12, 13, 26, 27})  # 26 once closed texts
PROBE_LINES = 400
_MOST_LINE = 20_000  # characters: a longer line is no row of at most 64 channels


@dataclass(frozen=True)
class Dialect:
    """How rows are written.

    Parameters
    ----------
    delimiter
        Between cells; " " stands for any run of blanks.
    numbers
        How numbers are written.
    rule
        What cells may hold.
    """

    delimiter: str = ","
    numbers: Numbers = field(default_factory=Numbers)
    rule: RowRule = "bare"

    def split(self, line: str) -> list[str]:
        """Split one line into bare cells."""
        return split(line, self.delimiter)

    def is_row(self, cells: Sequence[str]) -> bool:
        """Return whether these are the cells of a row of numbers."""
        if self.rule == "bare":
            return all(map(self.numbers.is_bare, cells)) and any(
                map(self.numbers.pattern.fullmatch, cells)
            )
        words = sum(self.numbers.kind(cell) == "word" for cell in cells)
        return self.figures(cells) > 0 and words <= (
            0 if self.rule == "dressed" else len(cells) // 2
        )

    def figures(self, cells: Sequence[str]) -> int:
        """Return how many cells hold a figure, with or without a unit, or a time of day."""
        return sum(self.numbers.kind(cell) in ("number", "unit", "clock") for cell in cells)


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
        return "cp1252"  # what is Latin-1 is read right by it as well
    return "utf-8"


def split(line: str, delimiter: str) -> list[str]:
    """Split one line into bare cells."""
    line = line.strip("\ufeff")
    if delimiter == " ":
        return [cell for cell in line.replace("\t", " ").strip().split(" ") if cell]
    if '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        except csv.Error:
            cells = line.split(delimiter)
    else:
        cells = line.split(delimiter)
    return [cell.strip() for cell in cells]


@dataclass(frozen=True)
class TypedSigns:
    """What a person says about the signs; None leaves one to be found."""

    delimiter: str | None = None
    decimal: str | None = None

    def fits(self, dialect: Dialect) -> bool:
        """Return whether a dialect has these signs."""
        return self.delimiter in (None, dialect.delimiter) and self.decimal in (
            None,
            dialect.numbers.decimal,
        )


def dialect_of(lines: Sequence[str], said: TypedSigns | None = None) -> Dialect:
    """Choose the dialect: most rows of numbers, then most columns, the plainest of equals.

    A decimal comma is tried after the point, so "1,2" is two columns unless the heading
    says that there is only one; groups of digits only where plain numbers leave rows over;
    units and times in the cells, then words, only where most rows would be lost.
    """
    filled = [line for line in lines if line.strip() and len(line) <= _MOST_LINE]
    probe, heads = filled[-PROBE_LINES:], filled[:8]
    said = said or TypedSigns()
    best, rows = _best(probe, heads, _PLAIN, "bare", said)
    if rows < len(probe):
        grouped, more = _best(probe, heads, _GROUPED, "bare", said)
        if more > rows:
            best, rows = grouped, more
    rules: tuple[RowRule, ...] = ("dressed", "worded")
    for rule in rules:
        if rows > len(probe) // 2:
            break
        dressed, more = _best(probe, heads, _PLAIN, rule, said)
        # what few bare rows there are may be remarks among the others, never the reverse
        if more > 2 * rows and more >= 2:
            best, rows = dressed, more
    return best


def _best(
    probe: Sequence[str],
    heads: Sequence[str],
    ways: Sequence[Numbers],
    rule: RowRule,
    said: TypedSigns,
) -> tuple[Dialect, int]:
    best = Dialect(said.delimiter or ",", Numbers("," if said.decimal == "," else "."))
    found = (0, 0)
    for dialect in _dialects(ways, rule, said):
        delimiter = dialect.delimiter
        lines = probe
        if delimiter == dialect.numbers.decimal:
            # only quotes can tell the two apart
            lines = [line for line in probe if '"' in line]
        if delimiter == " ":
            # blanks inside of cells that tabs part are no delimiters
            lines = [line for line in probe if _blanks_part(line)]
        rows = [cells for line in lines if dialect.is_row(cells := dialect.split(line))]
        if not rows:
            continue
        width, count = Counter(map(len, rows)).most_common(1)[0]
        if rule == "worded" and width < 2:
            continue
        guessed = said.delimiter is None
        if guessed and delimiter == "," and width == 2 and _is_one_column(heads):
            continue
        # a wrong delimiter cuts units and words in two, and leaves fewer figures whole
        figures = width if rule == "bare" else sum(map(dialect.figures, rows)) // len(rows)
        if (count, figures) > found:
            best, found = dialect, (count, figures)
    return best, found[0]


def _dialects(ways: Sequence[Numbers], rule: RowRule, said: TypedSigns) -> Iterator[Dialect]:
    for numbers in ways:
        for delimiter in _DELIMITERS:
            if delimiter == numbers.thousands or (rule != "bare" and delimiter == " "):
                continue
            dialect = Dialect(delimiter, numbers, rule)
            if said.fits(dialect):
                yield dialect


def _blanks_part(line: str) -> bool:
    return "\t" not in line or len(split(line, " ")) == len(split(line.strip(), "\t"))


def _is_one_column(heads: Sequence[str]) -> bool:
    """Return whether "0,5" is one column with a decimal comma: no heading has a comma."""
    words = [cells for head in heads if not Dialect().is_row(cells := split(head, ","))]
    return bool(words) and all(len(cells) == 1 for cells in words)
