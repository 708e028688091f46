"""Figures of a stretch between two samples, in a time that does not grow with its length."""

from dataclasses import dataclass

import numpy as np

from traces.core.waveform.summaries import BLOCK, MEAN_BLOCK
from traces.core.waveform.waveform import Samples

_MOST_FOR_MEAN = 1 << 22
_SAMPLED_BLOCKS = 16384


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
        Whether the mean is that of evenly spaced blocks, as a very long stretch's is where
        nothing was summed up or gaps lie in it.
    """

    minimum: float | None
    maximum: float | None
    mean: float | None
    mean_is_sampled: bool


def stretch_figures(
    values: Samples, blocks: Samples, first: int, last: int, means: Samples | None = None
) -> StretchFigures:
    """Return the figures of samples `first` to `last` (exclusive).

    Parameters
    ----------
    values
        Shape (samples,), may be a memory map.
    blocks
        What `summaries.block_extremes` made of `values`.
    first, last
        Clipped to what there is.
    means
        Mean of every `summaries.MEAN_BLOCK` samples; None where it was not kept.
    """
    first = min(max(first, 0), values.size)
    last = min(max(last, first), values.size)
    low, high = (_covering(values, edge, first, last, BLOCK) for edge in blocks)
    there = np.isfinite(low)
    if not there.any():
        return StretchFigures(None, None, None, mean_is_sampled=False)
    mean, mean_is_sampled = _mean(values, first, last, means)
    return StretchFigures(
        minimum=float(np.min(low[there])),
        maximum=float(np.max(high[np.isfinite(high)])),
        mean=mean,
        mean_is_sampled=mean_is_sampled,
    )


def _covering(values: Samples, summed: Samples, first: int, last: int, block: int) -> Samples:
    """Return what was summed up of the whole blocks inside, and the samples on either side."""
    from_block, to_block = -(-first // block), last // block
    if to_block <= from_block:
        return np.asarray(values[first:last])
    return np.concatenate(
        (
            values[first : from_block * block],
            summed[from_block:to_block],
            values[to_block * block : last],
        )
    )


def _mean(
    values: Samples, first: int, last: int, means: Samples | None
) -> tuple[float | None, bool]:
    """Return the mean of a stretch, and whether it is of a part of it only."""
    if last - first <= _MOST_FOR_MEAN:
        return _mean_of(np.asarray(values[first:last])), False
    from_block, to_block = -(-first // MEAN_BLOCK), last // MEAN_BLOCK
    if means is not None:
        inside = np.asarray(means[from_block:to_block])
        if np.isfinite(inside).all():
            edges = np.concatenate(
                (values[first : from_block * MEAN_BLOCK], values[to_block * MEAN_BLOCK : last])
            )
            total = MEAN_BLOCK * float(np.sum(inside, dtype=np.float64))
            if np.isfinite(edges).all():
                return (total + float(np.sum(edges, dtype=np.float64))) / (last - first), False
    rows = values[from_block * MEAN_BLOCK : to_block * MEAN_BLOCK].reshape(-1, MEAN_BLOCK)
    return _mean_of(np.asarray(rows[:: -(-rows.shape[0] // _SAMPLED_BLOCKS)])), True


def _mean_of(part: Samples) -> float | None:
    present = part[np.isfinite(part)]
    return float(np.mean(present, dtype=np.float64)) if present.size else None
