"""One growing row of numbers: in memory while it is short, then in a file without a name."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

_IN_MEMORY_BYTES = 8 << 20
BLOCK = 1 << 16

_Number = TypeVar("_Number", np.float32, np.float64)


class Spool(Generic[_Number]):
    """Numbers are added in parts and read back in parts or as a whole.

    The file has no name, so that nothing is left behind however the process ends.

    Parameters
    ----------
    dtype
        Of the numbers.
    folder
        Where the file lies; the system's folder for such files where None.
    """

    def __init__(self, dtype: type[_Number], folder: Path | None = None) -> None:
        self._dtype: np.dtype[Any] = np.dtype(dtype)
        self._folder = folder
        self._parts: list[NDArray[_Number]] = []
        self._file: IO[bytes] | None = None
        self.size = 0

    def add(self, part: NDArray[_Number]) -> None:
        """Take numbers over; the array must not be written to afterwards."""
        self.size += part.size
        if self._file is not None:
            self._file.write(np.ascontiguousarray(part).data)
            return
        self._parts.append(part)
        if self.size * self._dtype.itemsize > _IN_MEMORY_BYTES:
            self._file = tempfile.TemporaryFile(dir=self._folder)  # noqa: SIM115
            for one in self._parts:
                self._file.write(np.ascontiguousarray(one).data)
            self._parts = []

    def blocks(self) -> Iterator[NDArray[_Number]]:
        """Return all numbers in order, in parts of `BLOCK`; nothing may be added any more.

        The parts are the same in memory and on disk, so that spools of equal length go in step.
        """
        for at in range(0, self.size, BLOCK):
            yield self.part(at, min(at + BLOCK, self.size))

    def part(self, first: int, last: int) -> NDArray[_Number]:
        """Return numbers `first` to `last` (exclusive); nothing may be added any more."""
        if self._file is None:
            return self.array()[first:last]
        self._file.seek(first * self._dtype.itemsize)
        return np.fromfile(self._file, self._dtype, last - first)

    def array(self) -> NDArray[_Number]:
        """Return all numbers as one array, from a file as a memory map; the spool is closed."""
        if self._file is None:
            if len(self._parts) != 1:
                self._parts = [np.concatenate([np.empty(0, dtype=self._dtype), *self._parts])]
            return self._parts[0]
        self._file.flush()
        mapped: NDArray[_Number] = np.memmap(
            self._file, dtype=self._dtype, mode="r", shape=(self.size,)
        )
        self.close()
        return mapped

    def copy_to(self, target: int, at: int) -> bool:
        """Have the system copy all numbers into an open file; return whether it did.

        Parameters
        ----------
        target
            The file's number.
        at
            Where in the file, in bytes.

        Raises
        ------
        OSError
            If the system cannot, or not between these files; what was copied is of no use.
        """
        if self._file is None or not hasattr(os, "copy_file_range"):
            return False
        self._file.flush()
        source, done, wanted = self._file.fileno(), 0, self.size * self._dtype.itemsize
        while done < wanted:
            copied = os.copy_file_range(source, target, wanted - done, done, at + done)
            if copied == 0:
                return False
            done += copied
        return True

    def close(self) -> None:
        """Let go of the numbers; a map made by `array` keeps them."""
        self._parts = []
        if self._file is not None:
            self._file.close()
