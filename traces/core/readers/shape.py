"""The shape of a file: a digest of format and structure, without any of its figures.

The next export of the same logger has the same shape, another layout has another. It is always
of the file as it comes, never of what a correction makes of it.
"""

import hashlib
import json
import re
from collections.abc import Sequence
from typing import Any

from traces.core.readers.case_files import CaseReader
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Source
from traces.core.readers.stream import Stream
from traces.core.readers.text_layout import TextLayout, layout_of, lines_of

_PARTS_KEY = re.compile(r"[:=,;\t|]")
_LONGEST_KEY = 60
_MOST_KEYS = 40


def shape_of(stream: Stream) -> str:
    """Return the shape of an opened file; "" where nothing can be said of others like it.

    A case that a colleague sent has its channels by their parts in it, whatever logger they
    came from.
    """
    if stream.shape or stream.format == CaseReader.format:
        return stream.shape
    columns = [[column.name, column.unit] for column in stream.columns]
    return _digest(stream.format, stream.coding, columns)


def shape_of_text(source: Source) -> str:
    """Return the shape of a text, also of one that cannot be taken apart."""
    return shape_and_layout(source)[0]


def shape_and_layout(source: Source) -> tuple[str, TextLayout | None]:
    """Return a text's shape, and the layout it was found from; None where there is none.

    Delimiter, decimal sign, headings and units count; so do the names of what stands above
    them (“Operator: …”), and not what is said there.
    """
    try:
        layout = layout_of(source)
    except ReadError:
        _, lines = lines_of(source)
        return _digest("text", "no table", _keys(lines[:_MOST_KEYS])), None
    _, lines = lines_of(source)
    shape = _digest(
        "text",
        [layout.dialect.delimiter, layout.dialect.numbers.decimal, layout.dialect.rule],
        _titles(layout),
        _keys(lines[: layout.headings_idx]),
    )
    return shape, layout


def _titles(layout: TextLayout) -> list[Any]:
    titles = [
        None if column is None else [column.name, column.written_unit or column.unit, column.cells]
        for column in layout.columns
    ]
    while titles and titles[-1] is None:
        titles.pop()
    return titles


def _keys(lines: Sequence[str]) -> list[str]:
    """Return the names of what lines say, as far as they name it."""
    # by hand: a pattern that skips blanks twice takes minutes for a line of nothing else
    parts = (_PARTS_KEY.split(line.lstrip(), 1) for line in lines[:_MOST_KEYS])
    named = (part[0].rstrip() for part in parts if len(part) > 1)
    keys = (key.strip(' "#%').casefold() for key in named if len(key) <= _LONGEST_KEY)
    # a name that begins with a figure is a value, like a row of numbers
    return [re.sub(r"\d+", "0", key) for key in keys if key and not re.match(r"[-+.\d]", key)]


def _digest(*parts: object) -> str:
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()
