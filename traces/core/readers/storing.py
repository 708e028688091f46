"""A recording's compact copy on disk: samples as one array, extremes beside it."""

from pathlib import Path

import numpy as np

from traces.core.readers.recording import Recording

BLOCKS_SUFFIX = ".blocks.npy"


def write_blocks(path: Path, recording: Recording) -> None:
    """Write each channel's extremes by block beside the samples, as they were read.

    Parameters
    ----------
    path
        Of the samples, where `read` was told to keep them.
    recording
        What `read` gave back.
    """
    extremes = [summary.extremes for summary in recording.summaries]
    np.save(path.with_suffix(BLOCKS_SUFFIX), np.stack(extremes))
