"""What one pass over a channel leaves for later: extremes and means by block, and gaps."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Samples: TypeAlias = NDArray[np.float32]

BLOCK = 256
"""Samples that one smallest and one largest stand for: the one level of the pyramid."""

MEAN_BLOCK = 64
"""Samples that one mean stands for: the track that a fast recording is analysed by."""

_PART = 1 << 18


@dataclass(frozen=True, slots=True, eq=False)
class Summary:
    """What one pass over a channel tells.

    Parameters
    ----------
    extremes
        Shape (2, blocks), float32: smallest and largest of every `BLOCK` samples, gaps left
        out, the last block maybe short; NaN where a block is all gap.
    means
        Shape (blocks,), float32: mean of every `MEAN_BLOCK` samples, a short rest left out;
        NaN where there is a gap.
    missing
        Samples that are gaps.
    """

    extremes: Samples
    means: Samples
    missing: int

    def largest_swing(self, rest: np.float32, first: int, last: int) -> Samples:
        """Return for blocks `first` to `last` (exclusive) how far samples stand from a level.

        Rounding keeps order, so that this is exactly the largest that the samples would give.
        """
        low, high = self.extremes[:, first:last]
        swing: Samples = np.maximum(np.abs(low - rest), np.abs(high - rest))
        swing[np.isnan(swing)] = 0.0
        return swing


def block_extremes(values: Samples) -> Samples:
    """Return smallest and largest of every `BLOCK` samples, gaps left out.

    Parameters
    ----------
    values
        Shape (samples,).

    Returns
    -------
    Samples
        Shape (2, blocks), float32, the last block maybe short; NaN where a block is all gap.
    """
    parts = (values[at : at + _PART] for at in range(0, values.size, _PART))
    return summary_of(parts).extremes


def summary_of(parts: Iterable[Samples]) -> "Summary":
    """Return the summary of samples that come in parts."""
    summing = Summing()
    for part in parts:
        summing.add(np.asarray(part))
    return summing.summary()


class Summing:
    """A channel's summary as its samples come, in parts of any length."""

    def __init__(self) -> None:
        self._rest = np.empty(0, dtype=np.float32)
        self._extremes = _Growing(2)
        self._means = _Growing(1)
        self._missing = 0

    def add(self, part: Samples) -> None:
        """Take the next samples."""
        if self._rest.size:
            wanted = BLOCK - self._rest.size
            self._rest = np.concatenate((self._rest, part[:wanted]))
            part = part[wanted:]
            if self._rest.size < BLOCK:
                return
            self._take(self._rest)
        whole = part.size // BLOCK * BLOCK
        self._take(part[:whole])
        self._rest = part[whole:].copy()

    def summary(self) -> Summary:
        """Return the summary of all that was added."""
        self._take(self._rest, self._rest.size)
        self._rest = self._rest[:0]
        return Summary(
            extremes=self._extremes.found, means=self._means.found[0], missing=self._missing
        )

    def _take(self, samples: Samples, size: int = BLOCK) -> None:
        if samples.size == 0:
            return
        starts = np.arange(0, samples.size, size)
        low, high = self._extremes.more(starts.size)
        np.minimum.reduceat(samples, starts, out=low)
        np.maximum.reduceat(samples, starts, out=high)
        if np.isnan(low).any():
            # slower, and only needed where a gap would hide its neighbours
            np.fmin.reduceat(samples, starts, out=low)
            np.fmax.reduceat(samples, starts, out=high)
            self._missing += int(np.count_nonzero(np.isnan(samples)))
        whole = samples[: samples.size // MEAN_BLOCK * MEAN_BLOCK].reshape(-1, MEAN_BLOCK)
        means = self._means.more(len(whole))[0]
        # a third of the time of `sum`
        np.einsum("ij->i", whole, out=means)
        means *= np.float32(1.0 / MEAN_BLOCK)


class _Growing:
    """Rows that grow in one piece of memory: many small pieces would keep large ones apart."""

    def __init__(self, rows: int) -> None:
        self._held = np.empty((rows, 1024), dtype=np.float32)
        self._size = 0

    def more(self, count: int) -> Samples:
        """Return the place of so many further columns, to be written."""
        first, self._size = self._size, self._size + count
        if self._size > self._held.shape[1]:
            larger = np.empty((len(self._held), 2 * self._size), dtype=np.float32)
            larger[:, :first] = self._held[:, :first]
            self._held = larger
        return self._held[:, first : self._size]

    @property
    def found(self) -> Samples:
        """What was written so far."""
        return self._held[:, : self._size]
