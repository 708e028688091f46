"""A recording as it comes out of a file: columns first, then blocks of rows, once."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import Text
from traces.core.readers.text_facts import TextFacts
from traces.core.waveform import Samples

BLOCK_ROWS = 1 << 16
"""Rows that a reader hands over at once: a few hundred kilobytes a channel."""


@dataclass(frozen=True, slots=True)
class Column:
    """One channel to come: its name and, where the file gives one, its unit."""

    name: str
    unit: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Rows that follow on each other.

    Parameters
    ----------
    values
        Shape (channels, rows), float32; NaN where the file has a gap.
    times
        Shape (rows,), float64, finite: the rows' own times in seconds, or their numbers
        where the stream's `clock` is an index; None where rows carry neither.
    """

    values: Samples
    times: NDArray[np.float64] | None = None


@dataclass(slots=True)
class Stream:
    """A file being read.

    Parameters
    ----------
    format
        Plain name of the kind of file.
    columns
        The channels.
    blocks
        All rows, to be taken once; `notes` is complete when it has ended.
    rate_hz
        Samples per second where the file or the caller says so; times win over it.
    t0_s
        Time of the first row where `blocks` carry no times.
    rows
        How many rows will come, where the file says so and they carry no times.
    index
        Whether the blocks' times count rows instead of seconds.
    full_scale
        Whether values are shares of full scale (-1 to 1) rather than a unit.
    notes
        What was assumed or repaired, one sentence each.
    coding
        How samples are stored, where the format knows several ways.
    text
        How a text was taken apart; None for other files.
    shape
        Digest of a text's structure; other files have theirs from what stands above.
    """

    format: str
    columns: tuple[Column, ...]
    blocks: Iterator[Block]
    rate_hz: float | None = None
    t0_s: float = 0.0
    rows: int | None = None
    index: bool = False
    full_scale: bool = False
    notes: list[Text] = field(default_factory=list)
    coding: str = ""
    text: TextFacts | None = None
    shape: str = ""
