"""A recording's compact copy on disk: samples as one array, what sums them up beside it."""

from pathlib import Path

import numpy as np

from traces.core.readers.recording import Recording
from traces.core.waveform import Summary

BLOCKS_SUFFIX = ".blocks.npy"
MEANS_SUFFIX = ".means.npy"


def files_of(path: Path) -> list[Path]:
    """Return all files of a compact copy whose samples lie at `path`."""
    return [path, path.with_suffix(BLOCKS_SUFFIX), path.with_suffix(MEANS_SUFFIX)]


def write_summaries(path: Path, recording: Recording) -> None:
    """Write each channel's extremes and means by block beside the samples.

    Parameters
    ----------
    path
        Of the samples, where `read` was told to keep them.
    recording
        What `read` gave back.
    """
    summaries = recording.summaries
    np.save(path.with_suffix(BLOCKS_SUFFIX), np.stack([one.extremes for one in summaries]))
    np.save(path.with_suffix(MEANS_SUFFIX), np.stack([one.means for one in summaries]))


def summaries_at(path: Path, missing: list[int]) -> list[Summary] | None:
    """Return what was written beside the samples, or None where that is not all there.

    Parameters
    ----------
    path
        Of the samples.
    missing
        Gaps of each channel.
    """
    try:
        extremes = np.load(path.with_suffix(BLOCKS_SUFFIX), mmap_mode="r")
        means = np.load(path.with_suffix(MEANS_SUFFIX))
    except FileNotFoundError:
        return None
    return [Summary(*one) for one in zip(extremes, means, missing, strict=True)]
