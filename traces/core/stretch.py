"""Figures of a stretch between two samples, in a time that does not grow with its length."""

from dataclasses import dataclass

import numpy as np

from traces.core.summaries import BLOCK
from traces.core.waveform import Samples

_MOST_FOR_MEAN = 1 << 22
_SAMPLED_BLOCKS = 4096


@dataclass(frozen=True, slots=True)
class StretchFigures:
    """What a stretch of samples comes to; gaps are left out.

    Parameters
    ----------
    minimum, maximum
        Exact; None where all is gap.
    mean
        None where all is gap.
    mean_is_sampled
        Whether the mean is that of evenly spaced blocks, as a very long stretch's is.
    """

    minimum: float | None
    maximum: float | None
    mean: float | None
    mean_is_sampled: bool


def stretch_figures(values: Samples, blocks: Samples, first: int, last: int) -> StretchFigures:
    """Return the figures of samples `first` to `last` (exclusive).

    Parameters
    ----------
    values
        Shape (samples,), may be a memory map.
    blocks
        What `summaries.block_extremes` made of `values`.
    first, last
        Clipped to what there is.
    """
    first = min(max(first, 0), values.size)
    last = min(max(last, first), values.size)
    from_block, to_block = -(-first // BLOCK), last // BLOCK
    if to_block <= from_block:
        low = high = np.asarray(values[first:last])
    else:
        edges = (values[first : from_block * BLOCK], values[to_block * BLOCK : last])
        low = np.concatenate((edges[0], blocks[0, from_block:to_block], edges[1]))
        high = np.concatenate((edges[0], blocks[1, from_block:to_block], edges[1]))
    if not np.isfinite(low).any():
        return StretchFigures(None, None, None, mean_is_sampled=False)
    sampled = last - first > _MOST_FOR_MEAN
    part = np.asarray(values[first:last])
    if sampled:
        rows = values[from_block * BLOCK : to_block * BLOCK].reshape(-1, BLOCK)
        part = np.asarray(rows[:: -(-rows.shape[0] // _SAMPLED_BLOCKS)])
    present = part[np.isfinite(part)]
    return StretchFigures(
        minimum=float(np.min(low[np.isfinite(low)])),
        maximum=float(np.max(high[np.isfinite(high)])),
        mean=float(np.mean(present, dtype=np.float64)) if present.size else None,
        mean_is_sampled=sampled,
    )
