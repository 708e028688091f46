"""TDMS: channels of one group, with step and start from their properties."""

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.arrays import Array, Arrays
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import TROUBLE, Source, optional
from traces.core.readers.stream import Stream

_MOST_CHANNELS = 2000
_LEAD_IN, _BIG_LEAD_IN = struct.Struct("<4s2L2Q"), struct.Struct(">4s2L2Q")
_BIG_ENDIAN = 1 << 6  # in the mask of a lead-in
_FACTS = {"wf_increment": "increment", "wf_start_offset": "start"}
_DAMAGED = say("This TDMS file is damaged or cut off; save or copy it again.")


class TdmsReader:
    """Channels by name; a channel's properties give its unit, the first one's the rate."""

    format = "TDMS"

    def sniff(self, source: Source) -> bool:
        """Look for a segment's lead-in (TDMS file format internal structure, "TDSm")."""
        return source.head.startswith(b"TDSm")

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Read the file's structure, then the samples in parts.

        Raises
        ------
        ReadError
            If the library is not there, the file is damaged, or it holds no numbers.
        """
        _check_segments(source)
        nptdms = optional("TDMS", "nptdms", "npTDMS")
        # an open file, because the library leaves one of its own open when it fails
        with source.path.open("rb") as raw:
            try:
                file = nptdms.TdmsFile.open(raw)
                arrays = _arrays(file)
            except TROUBLE:
                raise ReadError(_DAMAGED) from None
            yield arrays.stream(self.format, source)


def _check_segments(source: Source) -> None:
    """Follow the segments' lead-ins to the file's end; the library fills up what is missing.

    Raises
    ------
    ReadError
        If the last segment is not whole (TDMS file format internal structure: lead-in of 28
        bytes, at 12 the length of what follows it, all ones where it was never written).
    """
    at = 0
    with source.path.open("rb") as file:
        while at < source.size:
            file.seek(at)
            lead_in = file.read(_LEAD_IN.size)
            if len(lead_in) < _LEAD_IN.size or not lead_in.startswith(b"TDSm"):
                raise ReadError(_DAMAGED)
            length = _lead_in(lead_in)[3]
            at += _LEAD_IN.size + length
            if length == 0 or at > source.size:
                raise ReadError(_DAMAGED)


def _lead_in(raw: bytes) -> tuple[Any, ...]:
    """Return a lead-in's figures; only the mask at 4 has the same order of bytes in all files."""
    is_big = int.from_bytes(raw[4:8], "little") & _BIG_ENDIAN
    return (_BIG_LEAD_IN if is_big else _LEAD_IN).unpack(raw)


def _arrays(file: Any) -> Arrays:  # noqa: ANN401 - the library has no types
    channels = [channel for group in file.groups() for channel in group.channels()]
    if len(channels) > _MOST_CHANNELS:
        raise ReadError(say("This TDMS file holds too many channels; save fewer of them."))
    arrays = Arrays()
    for channel in channels:
        if len(channel) < 2 or channel.dtype is None or channel.dtype.kind not in "biuf":
            arrays.left_out.append(channel.name)
            continue
        for key, fact in _FACTS.items():
            if key in channel.properties:
                arrays.add_fact(fact, channel.properties[key])
        unit = channel.properties.get("unit_string")
        arrays.arrays.append(
            Array(
                channel.name,
                unit if isinstance(unit, str) else None,
                len(channel),
                _part(channel),
                channel.dtype.str,
            )
        )
    return arrays


def _part(channel: Any) -> Any:  # noqa: ANN401 - the library has no types
    def part(first: int, last: int) -> NDArray[Any]:
        return np.asarray(channel.read_data(offset=first, length=last - first))

    return part
