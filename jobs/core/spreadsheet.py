"""Rows as text for a spreadsheet (RFC 4180)."""

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
"""What a spreadsheet takes for the beginning of a formula."""


def as_csv(heading: Sequence[str], rows: Iterable[Sequence[str | int | float]]) -> str:
    """Return a heading and rows, with CRLF; text that somebody typed is never a formula."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow([_cell(value) for value in heading])
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: str | float) -> str | float:
    if isinstance(value, str) and value.lstrip(" ").startswith(_FORMULA):
        return f"'{value}"
    return value
