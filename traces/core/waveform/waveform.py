"""Sampled channels on one uniform time base."""

import mmap
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform.channel_names import index_of_channel
from traces.core.waveform.summaries import BLOCK, MEAN_BLOCK, Samples, Summary

__all__ = ["Channel", "Samples", "Waveform", "let_go"]

_BLOCK = 1 << 18


def let_go(values: NDArray[Any]) -> None:
    """Give the memory of a map's pages back; they are read anew when asked for again."""
    mapped = getattr(values, "_mmap", None)
    if mapped is not None and hasattr(mmap, "MADV_DONTNEED"):
        mapped.madvise(mmap.MADV_DONTNEED)


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One recorded signal.

    Parameters
    ----------
    name
        As the file names it ("clamp", "CH1"); its number from 1 where the file does not.
    unit
        As the file gives it ("V", "A"); None where the file does not say.
    values
        Shape (samples,), float32, read-only; NaN where the file has a gap.
    summary
        Of these values, where they were summed up as they were read; spares looking at most
        of them again.

    Raises
    ------
    ValueError
        If the summary is one of another number of samples.
    """

    name: str
    unit: str | None
    values: Samples
    summary: Summary | None = None

    def __post_init__(self) -> None:
        self.values.setflags(write=False)
        if self.summary is not None and (
            self.summary.extremes.shape != (2, -(-self.values.size // BLOCK))
            or self.summary.means.shape != (self.values.size // MEAN_BLOCK,)
        ):
            raise ValueError("the summary is of another channel")

    def blocks(
        self, samples: int = _BLOCK, *, first: int = 0, last: int | None = None
    ) -> Iterator[Samples]:
        """Return samples `first` to `last` (exclusive) in parts of `samples`, in order.

        Where the values are a memory map, each part's pages are let go of before the next,
        so that a long channel never stands in memory as a whole.
        """
        last = self.values.size if last is None else min(last, self.values.size)
        for at in range(max(first, 0), last, samples):
            yield self.values[at : min(at + samples, last)]
            let_go(self.values)

    def sampled(self, most: int, *, first: int = 0, last: int | None = None) -> Samples:
        """Return samples `first` to `last` (exclusive), or every n-th where they are too many.

        Parameters
        ----------
        most
            About so many at most, evenly spread.
        """
        last = self.values.size if last is None else min(last, self.values.size)
        every = max(1, -(-(last - first) // most))
        parts = [part[::every] for part in self._aligned(every, first, last)]
        return np.concatenate([np.empty(0, dtype=np.float32), *parts])

    def _aligned(self, every: int, first: int, last: int) -> Iterator[Samples]:
        for part in self.blocks(every * max(1, _BLOCK // every), first=first, last=last):
            yield np.asarray(part)

    def holds(self, least: int) -> bool:
        """Return whether there are so many samples that are no gaps."""
        if self.summary is not None:
            return self.values.size - self.summary.missing >= least
        found = 0
        for part in self.blocks():
            found += int(np.isfinite(part).sum())
            if found >= least:
                return True
        return False

    def is_flat(self) -> bool:
        """Return whether all samples that are no gaps are the same."""
        if self.summary is not None:
            low, high = self.summary.extremes
            return bool(np.fmin.reduce(low) == np.fmax.reduce(high)) or not self.holds(1)
        level: float | None = None
        for part in self.blocks():
            known = part[np.isfinite(part)]
            if known.size == 0:
                continue
            level = float(known[0]) if level is None else level
            if (known != level).any():
                return False
        return True


@dataclass(frozen=True, slots=True, eq=False)
class Waveform:
    """Channels of equal length, sampled at `rate_hz` from `t0_s` on.

    The time column of a file is kept as start and rate: a float32 time column loses
    microseconds after ten seconds.

    Raises
    ------
    ValueError
        If channels differ in length or `rate_hz` is not positive.
    """

    t0_s: float
    rate_hz: float
    channels: tuple[Channel, ...] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        if not self.rate_hz > 0:
            raise ValueError("rate_hz must be positive")
        if len({c.values.size for c in self.channels}) > 1:
            raise ValueError("channels differ in length")

    @property
    def samples(self) -> int:
        """Samples per channel."""
        return self.channels[0].values.size if self.channels else 0

    @property
    def duration_s(self) -> float:
        """Length of the recording in seconds."""
        return self.samples / self.rate_hz

    def channel(self, name_or_number: str) -> Channel:
        """Return a channel by its name or, failing that, by its number from 1.

        Raises
        ------
        KeyError
            With a sentence that lists the channels there are.
        """
        at = index_of_channel([channel.name for channel in self.channels], name_or_number)
        if at is not None:
            return self.channels[at]
        raise KeyError(
            f"There is no channel “{name_or_number}”; the file has {_listed(self.channels)}."
        )


def _listed(channels: Iterable[Channel]) -> str:
    names = [c.name for c in channels]
    return ", ".join(names) if names else "no channels"
