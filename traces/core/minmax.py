"""Fewer points for a screen, without losing a spike: smallest and largest by stretch."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from traces.core.summaries import BLOCK, Samples


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
        Smallest and largest by block of `values`, see `traces.core.summaries`.
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
    count = -(-low.size // size)
    lowest, low_at = _extreme(low, size, count, np.inf)
    highest, high_at = _extreme(-high, size, count, np.inf)
    highest = -highest
    starts = np.arange(count, dtype=np.float64) * size
    low_at_idx, high_at_idx = starts + low_at, starts + high_at
    low_first = low_at_idx <= high_at_idx
    at = np.empty(2 * count)
    values = np.empty(2 * count, dtype=np.float32)
    at[0::2] = np.where(low_first, low_at_idx, high_at_idx)
    at[1::2] = np.where(low_first, high_at_idx, low_at_idx)
    values[0::2] = np.where(low_first, lowest, highest)
    values[1::2] = np.where(low_first, highest, lowest)
    values[~np.isfinite(values)] = np.nan
    return Envelope(at_idx=at, values=values)


def _extreme(
    values: Samples, size: int, count: int, filler: float
) -> tuple[Samples, NDArray[np.intp]]:
    padded = np.full(count * size, filler, dtype=np.float32)
    padded[: values.size] = np.where(np.isnan(values), np.float32(filler), values)
    rows = padded.reshape(count, size)
    at = rows.argmin(axis=1)
    return rows[np.arange(count), at], at
