"""NumPy's own files: one array (.npy) or several by name (.npz)."""

import math
import re
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.arrays import Arrays, columns_of
from traces.core.readers.packed import MOST_BYTES, open_zip, unpack
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import TROUBLE, Source
from traces.core.readers.stream import Stream
from traces.core.waveform import let_go

_MAGIC = b"\x93NUMPY"
_MOST_ARRAYS = 200
_MOST_HEADER = 10_000
_PLAIN_HEADER = re.compile(
    rb"\{'descr': '(?P<descr>[<>|=]?[biuf][0-9]{1,2})', 'fortran_order': "
    rb"(?P<by_column>True|False), "
    rb"'shape': \((?P<shape>[0-9, ]{0,40})\),? *\} *\n"
)
_FIRST_NAME = 30  # offset of a name in a local header (APPNOTE 6.3.10, 4.3.7)
_DAMAGED = say("This NumPy file is damaged or cut off; save or copy it again.")


class NumpyReader:
    """Arrays by name are channels; "time" is their clock, single figures may be the rate."""

    format = "NumPy"

    def sniff(self, source: Source) -> bool:
        """Look for an array's signature, or an archive whose first member is an array."""
        head = source.head
        if head.startswith(_MAGIC):
            return True
        if not head.startswith(b"PK\x03\x04") or len(head) < _FIRST_NAME:
            return False
        length = int.from_bytes(head[26:28], "little")
        return head[_FIRST_NAME : _FIRST_NAME + length].endswith(b".npy")

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Map the arrays, those of an archive unpacked into files without names.

        Raises
        ------
        ReadError
            If the file is damaged, holds Python objects, or no numbers.
        """
        with ExitStack() as stack:
            arrays = Arrays()
            if source.head.startswith(_MAGIC):
                file = stack.enter_context(source.path.open("rb"))
                _add(arrays, "", mapped(file, source.size))
            else:
                archive = stack.enter_context(open_zip(source))
                members = [m for m in archive.infolist() if m.filename.endswith(".npy")]
                if len(members) > _MOST_ARRAYS:
                    raise ReadError(
                        say(
                            "This NumPy file holds {count} arrays; save fewer of them.",
                            count=len(members),
                        )
                    )
                left = MOST_BYTES
                for member in members:
                    unpacked = stack.enter_context(tempfile.TemporaryFile())
                    try:
                        packed = archive.open(member)
                    except TROUBLE:
                        raise ReadError(_DAMAGED) from None
                    with packed:
                        unpack(packed, unpacked, member.compress_size, say("NumPy file"), left)
                    size = unpacked.tell()
                    left -= size
                    unpacked.seek(0)
                    _add(arrays, member.filename.removesuffix(".npy"), mapped(unpacked, size))
            yield arrays.stream(self.format, source)


def mapped(file: IO[bytes], size: int) -> NDArray[Any] | None:
    """Map an array's values; None where it is none of numbers, or has more than two axes.

    The header is a dictionary in Python's own writing (NEP 1); only its usual form is taken,
    so that nothing of a stranger's is ever evaluated.
    """
    try:
        header = _header(file)
        found = _PLAIN_HEADER.match(header)
        if found is None:
            return None
        dtype = np.dtype(found["descr"].decode())
        shape = tuple(int(side) for side in found["shape"].split(b",") if side.strip())
        values = math.prod(shape)
        at = file.tell()
        if len(shape) > 2:
            return None
        if values * dtype.itemsize > size - at:
            raise ReadError(_DAMAGED)
        if values == 0:
            return np.empty(0, dtype=dtype)
        mapped: NDArray[Any] = np.memmap(
            file,
            dtype=dtype,
            mode="r",
            offset=at,
            shape=shape,
            order="F" if found["by_column"] == b"True" else "C",
        )
    except TROUBLE:
        raise ReadError(_DAMAGED) from None
    return mapped


def _header(file: IO[bytes]) -> bytes:
    """Return the header's text and leave the file where the values begin."""
    start = file.read(12)
    if not start.startswith(_MAGIC):
        raise ReadError(_DAMAGED)
    long = start[6] > 1
    length = int.from_bytes(start[8:12] if long else start[8:10], "little")
    if length > _MOST_HEADER:
        raise ReadError(_DAMAGED)
    file.seek(12 if long else 10)
    return file.read(length)


def _add(arrays: Arrays, name: str, values: NDArray[Any] | None) -> None:
    if values is None:
        arrays.left_out.append(name)
        return
    if values.size == 1:
        arrays.add_fact(name, values)
        return
    table = values.T if values.ndim == 2 and values.shape[1] > values.shape[0] else values

    def part(first: int, last: int) -> NDArray[Any]:
        found = np.array(table[first:last])
        let_go(table)
        return found

    arrays.arrays += columns_of(name, None, values.shape, part, values.dtype.str)
