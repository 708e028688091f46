"""HDF5: its datasets of numbers are channels, wherever in the file they lie."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.arrays import Arrays, columns_of
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import TROUBLE, Source, optional
from traces.core.readers.stream import Stream

_MAGIC = b"\x89HDF\r\n\x1a\n"
_MOST_OBJECTS = 2000
_DEEPEST = 8
_MOST_CHUNK_BYTES = 64 << 20
_UNIT_NAMES = ("unit", "units", "unit_string", "unit_y")
_DAMAGED = say("This HDF5 file is damaged or cut off; save or copy it again.")


class Hdf5Reader:
    """Datasets by name; rate, step, start and units from attributes or single figures."""

    format = "HDF5"

    def sniff(self, source: Source) -> bool:
        """Look for the signature (HDF5 file format specification 3.0, II.A)."""
        return source.head.startswith(_MAGIC)

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Walk the file's own groups; nothing outside of the file is followed.

        Raises
        ------
        ReadError
            If the library is not there, the file is damaged, or it holds no numbers.
        """
        h5py = optional("HDF5", "h5py", "h5py")
        try:
            file = h5py.File(source.path, "r")
        except TROUBLE:
            raise ReadError(_DAMAGED) from None
        with file:
            arrays = Arrays()
            try:
                _walk(h5py, file, arrays, [0], 0)
            except TROUBLE:
                raise ReadError(_DAMAGED) from None
            yield arrays.stream(self.format, source)


def _walk(h5py: Any, group: Any, arrays: Arrays, seen: list[int], depth: int) -> None:  # noqa: ANN401
    _add_facts(group.attrs, arrays)
    for name in group:
        seen[0] += 1
        if seen[0] > _MOST_OBJECTS or depth > _DEEPEST:
            raise ReadError(say("This HDF5 file holds too many parts; save the recording alone."))
        if not isinstance(group.get(name, getlink=True), h5py.HardLink):
            arrays.left_out.append(name)  # links may lead to other files of this machine
            continue
        node = group[name]
        if isinstance(node, h5py.Group):
            _walk(h5py, node, arrays, seen, depth + 1)
        elif isinstance(node, h5py.Dataset):
            _add(node, name, arrays)


def _add(dataset: Any, name: str, arrays: Arrays) -> None:  # noqa: ANN401 - h5py has no types
    numbers = dataset.dtype.kind in "biuf" and 0 <= dataset.ndim <= 2
    if not numbers or dataset.shape is None or dataset.is_virtual or dataset.external:
        arrays.left_out.append(name)
        return
    chunk = int(np.prod(dataset.chunks or (1,), dtype=np.float64)) * dataset.dtype.itemsize
    if chunk > _MOST_CHUNK_BYTES:
        raise ReadError(say("This HDF5 file is packed in pieces that are too large; save it anew."))
    if dataset.size == 1:
        arrays.add_fact(name, dataset[()])
        return
    _add_facts(dataset.attrs, arrays)
    by_rows = dataset.ndim < 2 or dataset.shape[0] >= dataset.shape[1]

    def part(first: int, last: int) -> NDArray[Any]:
        found = dataset[first:last] if by_rows else dataset[:, first:last].T
        return np.asarray(found)

    arrays.arrays += columns_of(name, _unit(dataset.attrs), dataset.shape, part, dataset.dtype.str)


def _add_facts(attributes: Mapping[str, Any], arrays: Arrays) -> None:
    for name in list(attributes)[:100]:
        if attributes.get_id(name).shape in ((), (1,)):  # type: ignore[attr-defined]
            arrays.add_fact(name, attributes[name])


def _unit(attributes: Mapping[str, Any]) -> str | None:
    for name in attributes:
        if name.casefold() in _UNIT_NAMES:
            value = attributes[name]
            text = value.decode("utf-8", "replace") if isinstance(value, bytes) else value
            return text if isinstance(text, str) and text else None
    return None
