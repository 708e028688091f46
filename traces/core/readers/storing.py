"""A recording's compact copy on disk: samples as one array, extremes beside it."""

from pathlib import Path

import numpy as np
from numpy.lib.format import write_array_header_1_0

from traces.core.inspection import summaries_of
from traces.core.readers.recording import Recording

BLOCKS_SUFFIX = ".blocks.npy"


def write_samples(path: Path, recording: Recording) -> None:
    """Write channels as one float32 array (channels, samples), and their blocks beside it.

    Parameters
    ----------
    path
        Of the array; its folder is there.
    recording
        Its samples are taken in parts, never as a whole.
    """
    shape = (len(recording.channels), recording.samples)
    with path.open("wb") as file:
        header = {"descr": "<f4", "fortran_order": False, "shape": shape}
        write_array_header_1_0(file, header)
        for channel in recording.channels:
            for part in channel.blocks():
                file.write(np.ascontiguousarray(part, dtype="<f4").data)
    extremes = [summary.extremes for summary in summaries_of(recording)]
    np.save(path.with_suffix(BLOCKS_SUFFIX), np.stack(extremes))
