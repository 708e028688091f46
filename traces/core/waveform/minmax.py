"""Fewer points for a screen, without losing a spike: smallest and largest by stretch."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.waveform.summaries import BLOCK, Samples


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """Points to draw a stretch of samples with.

    Parameters
    ----------
    at_idx
        Shape (points,), float64, rising: where each point stands, in samples.
    values
        Shape (points,), float32; NaN where the file has a gap.
    """

    at_idx: NDArray[np.float64]
    values: Samples


def envelope(
    values: Samples, blocks: Samples, *, pixels: int, first: int = 0, last: int | None = None
) -> Envelope:
    """Return at most about two points a pixel for samples `first` to `last` (exclusive).

    A short stretch comes back as it is. A longer one is cut into equal parts, each told by
    its smallest and largest sample in the order in which they came; a very long one is told
    by its blocks, so that the work does not grow with the sample rate.

    Parameters
    ----------
    values
        Shape (samples,), may be a memory map.
    blocks
        Smallest and largest by block of `values`, see `traces.core.waveform.summaries`.
    pixels
        Width of the picture.
    first, last
        Stretch in samples, clipped to what there is.
    """
    if pixels < 1:
        raise ValueError("pixels must be at least 1")
    first = min(max(first, 0), values.size)
    last = values.size if last is None else min(max(last, first), values.size)
    count = last - first
    if count <= 2 * pixels:
        at = np.arange(first, last, dtype=np.float64)
        return Envelope(at_idx=at, values=np.array(values[first:last], dtype=np.float32))
    if count >= 4 * BLOCK * pixels:
        from_block, to_block = first // BLOCK, -(-last // BLOCK)
        low, high = blocks[0, from_block:to_block], blocks[1, from_block:to_block]
        parts = _parts(low, high, pixels)
        at = (parts.at_idx + from_block + 0.5) * BLOCK
        return Envelope(at_idx=np.clip(at, first, last - 1), values=parts.values)
    stretch = np.asarray(values[first:last])
    parts = _parts(stretch, stretch, pixels)
    return Envelope(at_idx=parts.at_idx + first, values=parts.values)


def _parts(low: Samples, high: Samples, pixels: int) -> Envelope:
    """Tell each of at most `pixels` equal parts by its smallest `low` and largest `high`."""
    size = -(-low.size // pixels)
    low_at_idx, high_at_idx = (
        _extremes_at(low, size, np.argmin),
        _extremes_at(high, size, np.argmax),
    )
    lowest, highest = low[low_at_idx], high[high_at_idx]
    low_first = low_at_idx <= high_at_idx
    at = np.empty(2 * low_at_idx.size)
    values = np.empty(at.size, dtype=np.float32)
    at[0::2] = np.where(low_first, low_at_idx, high_at_idx)
    at[1::2] = np.where(low_first, high_at_idx, low_at_idx)
    values[0::2] = np.where(low_first, lowest, highest)
    values[1::2] = np.where(low_first, highest, lowest)
    values[~np.isfinite(values)] = np.nan
    return Envelope(at_idx=at, values=values)


def _extremes_at(
    values: Samples, size: int, find: Callable[..., NDArray[np.intp]]
) -> NDArray[np.intp]:
    """Return where the extreme of each part of `size` stands; its first sample if all is gap."""
    whole = values.size // size
    rows = values[: whole * size].reshape(whole, size)
    at = find(rows, axis=1)
    # both searches stop at a gap; only what holds one is copied and searched without it
    gaps = np.flatnonzero(np.isnan(rows[np.arange(whole), at]))
    at[gaps] = _beside_gaps(rows[gaps], find)
    rest = values[whole * size :]
    if rest.size:
        at = np.append(at, _beside_gaps(rest[np.newaxis], find))
    return at + np.arange(at.size) * size


def _beside_gaps(rows: Samples, find: Callable[..., NDArray[np.intp]]) -> NDArray[np.intp]:
    filler = np.float32(np.inf if find is np.argmin else -np.inf)
    filled: NDArray[np.intp] = find(np.where(np.isnan(rows), filler, rows), axis=1)
    return filled
