"""A text file of times at which something happens, as tooth wheels are logged: numbers, rising.

They become a channel that steps up at each time. Where it crosses the middle between its levels
is exact, whatever the sample rate: the samples around an edge lie on a line through it.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import gettext_noop, say
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Source, refuse_too_many
from traces.core.readers.stream import BLOCK_ROWS, Block, Column, Stream
from traces.core.readers.text_facts import TextFacts, shown_lines

CHANNEL = "edges"

_FEWEST = 16
_LARGEST_BYTES = 32 * 1024 * 1024
_LONGEST_S = 3600.0
_STEPS_S = (2e-5, 2.0)
_EVEN = 1e-4
_SAMPLES_A_STEP = 12
_RATES_HZ = (1_000.0, 500_000.0)
_HIGH_SHARE = 0.35  # of the shortest step
_SHOWN = 4096
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_BETWEEN = re.compile(r"[\s,;]+")


class EdgeTimesReader:
    """Seconds, each later than the one before: all in one line, or one on each."""

    format = gettext_noop("edge times")

    def sniff(self, source: Source) -> bool:
        """Take what is nothing but rising numbers whose steps are not all alike."""
        if source.as_text:
            return False
        try:
            text = source.head.decode("ascii")
        except UnicodeDecodeError:
            return False
        if not source.whole_in_head:
            # the last number may be cut through
            text = text[: max(text.rfind(c) for c in " \t\r\n,;")]
        times_s = _numbers(text)
        return times_s is not None and times_s.size >= _FEWEST and _are_edges(times_s)

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Read all times and hand them over as a channel.

        Raises
        ------
        ReadError
            If the file is longer than a crank can be, or a time is no number or not later.
        """
        if source.size > _LARGEST_BYTES:
            raise ReadError(
                say("The file holds more edge times than a crank has; save a part of it.")
            )
        text = source.path.read_bytes().decode("ascii", errors="replace")
        times_s = _numbers(text)
        if times_s is None or times_s.size < 2 or not _are_edges(times_s):
            raise ReadError(
                say("The edge times do not rise all through the file; export the recording again.")
            )
        shortest_s = float(np.quantile(np.diff(times_s), 0.01))
        rate_hz = float(np.clip(np.ceil(_SAMPLES_A_STEP / shortest_s), *_RATES_HZ))
        t0_s = float(times_s[0]) - 2 / rate_hz
        samples = int(np.ceil((times_s[-1] - t0_s) * rate_hz)) + _SAMPLES_A_STEP
        refuse_too_many(samples)
        yield Stream(
            format=self.format,
            columns=(Column(CHANNEL),),
            blocks=_blocks((times_s - t0_s) * rate_hz, samples, _HIGH_SHARE * _SAMPLES_A_STEP),
            rate_hz=rate_hz,
            t0_s=t0_s,
            notes=[
                say(
                    "{count} edge times were made into a channel that steps at each.",
                    count=times_s.size,
                )
            ],
            text=TextFacts(lines=shown_lines(text[:_SHOWN].splitlines())),
        )


def _numbers(text: str) -> NDArray[np.float64] | None:
    """Return what stands in one line, or one on each under a heading; None where more does."""
    lines = [line.strip(" \t,;") for line in text.splitlines()]
    lines = [line for line in lines if line]
    if not lines:
        return None
    words = _BETWEEN.split(lines[0]) if len(lines) == 1 else lines
    if len(lines) > 1 and not _NUMBER.fullmatch(words[0]):
        words = words[1:]
    if not all(_NUMBER.fullmatch(word) for word in words):
        return None
    return np.array([float(word) for word in words], dtype=np.float64)


def _are_edges(times_s: NDArray[np.float64]) -> bool:
    steps = np.diff(times_s)
    if not (steps > 0).all() or times_s[-1] - times_s[0] > _LONGEST_S:
        return False
    usual = float(np.median(steps))
    # equal steps are a time column that has lost its signals
    return _STEPS_S[0] <= usual <= _STEPS_S[1] and float(np.ptp(steps)) > _EVEN * usual


def _blocks(at: NDArray[np.float64], samples: int, high: float) -> Iterator[Block]:
    """Yield the channel; `at` is where the edges stand, in samples."""
    before = np.floor(at).astype(np.int64)
    part = at - before
    for first in range(0, samples, BLOCK_ROWS):
        rows = np.arange(first, min(first + BLOCK_ROWS, samples))
        last = np.searchsorted(at, rows, side="right") - 1
        since = np.where(last >= 0, rows - at[np.maximum(last, 0)], np.inf)
        values = ((since >= 0) & (since < high)).astype(np.float32)
        for offset, level in ((0, 0.5 - 0.5 * part), (1, 1.0 - 0.5 * part)):
            place = before + offset - first
            inside = (place >= 0) & (place < rows.size)
            values[place[inside]] = level[inside]
        yield Block(values[None, :])
