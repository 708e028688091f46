"""Recordings and cases written to files."""

from traces.core.exports.case_writing import write_case
from traces.core.exports.table_writing import EmptyStretchError, span, table

__all__ = [
    "EmptyStretchError",
    "span",
    "table",
    "write_case",
]
