"""Samples in one file: an array (channels, samples) whose rows are written side by side."""

import contextlib
import errno
import io
import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.lib.format import write_array_header_1_0

from traces.core.readers.spool import BLOCK, Spool
from traces.core.waveform import Samples

_SAMPLE_BYTES = 4


class SampleFile:
    """A NumPy file of float32 that has its full length from the start.

    So each channel's samples go to their place as they come, once, whatever the order.

    Parameters
    ----------
    path
        Of the file; its folder is there. What was there before is lost.
    channels, samples
        Shape of the array.

    Raises
    ------
    OSError
        Where the disk has no room for all of it.
    """

    def __init__(self, path: Path, channels: int, samples: int) -> None:
        self.path = path
        self.samples = samples
        head = io.BytesIO()
        header = {"descr": "<f4", "fortran_order": False, "shape": (channels, samples)}
        write_array_header_1_0(head, header)
        self._begin = head.tell()
        length = self._begin + channels * samples * _SAMPLE_BYTES
        self._file = path.open("w+b", buffering=0)
        try:
            _make_room(self._file, length)
            self._file.write(head.getvalue())
        except OSError:
            self.discard()
            raise
        self.rows = tuple(
            SampleRow(self._file, self._begin + i * samples * _SAMPLE_BYTES, samples)
            for i in range(channels)
        )

    def arrays(self) -> tuple[Samples, ...]:
        """Return the rows as memory maps; the file is closed.

        Raises
        ------
        RuntimeError
            If a row is not full: what is missing would be read as zeros.
        """
        if any(row.size != self.samples for row in self.rows):
            raise RuntimeError("a row of samples is not full")
        self.close()
        if not self.samples:
            return tuple(np.empty(0, dtype=np.float32) for _ in self.rows)
        mapped = np.load(self.path, mmap_mode="r")
        return tuple(mapped[i] for i in range(len(self.rows)))

    def close(self) -> None:
        """Close the file; maps of it stay good."""
        self._file.close()

    def discard(self) -> None:
        """Close and remove the file."""
        self.close()
        self.path.unlink(missing_ok=True)


class SampleRow:
    """One channel's place in a `SampleFile`."""

    def __init__(self, file: io.FileIO, begin: int, samples: int) -> None:
        self._file = file
        self._begin = begin
        self._samples = samples
        self.size = 0

    def add(self, part: Samples) -> None:
        """Write the next samples."""
        self._check(part.size)
        data = np.ascontiguousarray(part, dtype="<f4").data.cast("B")
        at = self._begin + self.size * _SAMPLE_BYTES
        while data:
            done = os.pwrite(self._file.fileno(), data, at)
            data, at = data[done:], at + done
        self.size += part.size

    def take(self, spool: Spool[np.float32]) -> None:
        """Write all of a spool, without its samples passing through here where that can be."""
        self._check(spool.size)
        begin, self.size = self.size, self.size + spool.size
        with contextlib.suppress(OSError):
            if spool.copy_to(self._file.fileno(), self._begin + begin * _SAMPLE_BYTES):
                return
        self.size = begin
        for part in spool.blocks():
            self.add(part)

    def blocks(self) -> Iterator[Samples]:
        """Return what was written, in order."""
        for at in range(0, self.size, BLOCK):
            wanted = min(BLOCK, self.size - at) * _SAMPLE_BYTES
            found = os.pread(self._file.fileno(), wanted, self._begin + at * _SAMPLE_BYTES)
            yield np.frombuffer(found, dtype="<f4")

    def _check(self, more: int) -> None:
        if self.size + more > self._samples:
            raise ValueError("more samples than the file has room for")


def _make_room(file: io.FileIO, length: int) -> None:
    if hasattr(os, "posix_fallocate"):
        try:
            os.posix_fallocate(file.fileno(), 0, length)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.EOPNOTSUPP):
                raise
        else:
            return
    # not every file system can set room aside
    file.truncate(length)
