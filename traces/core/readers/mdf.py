"""MDF4: the measured channels of one time base, and of others that share it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.arrays import Array, Arrays
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import TROUBLE, Source, optional
from traces.core.readers.stream import Stream

Trouble: TypeAlias = tuple[type[Exception], ...]

_MAGIC = b"MDF     "
_UNFINISHED = b"UnFinMF "
_BLOCK_ROWS = 1 << 19  # each part costs the library a search from the start
_MOST_CHANNELS = 2000
_DAMAGED = say("This MDF4 file is damaged or cut off; save or copy it again.")


class MdfReader:
    """Channel groups that share their times; the one with most samples decides."""

    format = "MDF4"

    def sniff(self, source: Source) -> bool:
        """Look for the identification block (ASAM MDF 4.1, ID block)."""
        return source.head.startswith((_MAGIC, _UNFINISHED))

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Read the file's structure, then the samples in parts.

        Raises
        ------
        ReadError
            If the library is not there, the file is older, unfinished or damaged, or it holds
            no numbers.
        """
        if source.head.startswith(_UNFINISHED):
            raise ReadError(say("This MDF file was never closed; save it again from its recorder."))
        if not source.head[8:12].startswith(b"4"):
            raise ReadError(
                say("This MDF file is older than version 4; save it as MDF4, CSV or WAV.")
            )
        asammdf = optional("MDF4", "asammdf", "asammdf")
        exceptions = optional("MDF4", "asammdf.blocks.utils", "asammdf")
        trouble: Trouble = (exceptions.MdfException, *TROUBLE)
        with source.path.open("rb") as file:
            try:
                # an open file, because from a name the library would guess at archives
                mdf = asammdf.MDF(file)
            except trouble:
                raise ReadError(_DAMAGED) from None
            try:
                arrays = _arrays(mdf, trouble)
            except trouble:
                raise ReadError(_DAMAGED) from None
            yield arrays.stream(self.format, source, block_rows=_BLOCK_ROWS)
            mdf.close()


def _arrays(mdf: Any, trouble: Trouble) -> Arrays:  # noqa: ANN401
    arrays = Arrays()
    sizes = [int(group.channel_group.cycles_nr) for group in mdf.groups]
    if not sizes or sum(len(group.channels) for group in mdf.groups) > _MOST_CHANNELS:
        raise ReadError(
            say("This MDF4 file holds no channels, or too many; save the recording alone.")
        )
    main = sizes.index(max(sizes))
    ends = _ends(mdf, main, sizes[main])
    for number, group in enumerate(mdf.groups):
        shares = sizes[number] == sizes[main] and _ends(mdf, number, sizes[number]) == ends
        for index, channel in enumerate(group.channels):
            if index == mdf.masters_db.get(number):
                if number == main:
                    arrays.arrays.append(Array("time", "s", sizes[main], _times(mdf, main)))
                continue
            part = _part(mdf, number, index, trouble)
            if not shares or not _is_numeric(part, trouble):
                arrays.left_out.append(channel.name)
                continue
            arrays.arrays.append(Array(channel.name, channel.unit or None, sizes[number], part))
    return arrays


def _ends(mdf: Any, number: int, size: int) -> list[float]:  # noqa: ANN401
    """Return a few of a group's times, to tell whether two groups share them."""
    if mdf.masters_db.get(number) is None or size < 1:
        return []
    places = (0, size // 3, size // 2, size - 1)
    return [float(_times(mdf, number)(at, at + 1)[0]) for at in places]


def _times(mdf: Any, number: int) -> Any:  # noqa: ANN401
    def part(first: int, last: int) -> NDArray[Any]:
        times = mdf.get_master(number, record_offset=first, record_count=last - first)
        return np.asarray(times)

    return part


def _part(mdf: Any, number: int, index: int, trouble: Trouble) -> Any:  # noqa: ANN401
    def part(first: int, last: int) -> NDArray[Any]:
        try:
            values = mdf.get(
                group=number,
                index=index,
                record_offset=first,
                record_count=last - first,
                samples_only=True,
            )[0]
        except trouble as error:
            raise ValueError(str(error)) from None
        return np.asarray(values)

    return part


def _is_numeric(part: Any, trouble: Trouble) -> bool:  # noqa: ANN401
    try:
        values = part(0, 1)
    except trouble:
        return False
    return values.ndim == 1 and values.dtype.kind in "biuf"
