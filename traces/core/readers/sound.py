"""Audio-like recordings: WAV, FLAC and Ogg, values as shares of full scale."""

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import soundfile
from numpy.typing import NDArray

from shopdiag.people.core.words import say
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import (
    TROUBLE,
    Source,
    refuse_channels,
    refuse_swollen,
    refuse_too_many,
)
from traces.core.readers.stream import BLOCK_ROWS, Block, Column, Stream
from traces.core.waveform import Samples

_UNKNOWN_SIZE = (0, 0xFFFFFFFF)  # written by recorders that stream and never come back
_UNKNOWN_FRAMES = 1 << 60  # above that the decoder means "who knows"
_EXACT = ("PCM_", "FLOAT", "DOUBLE")
# Decoded to whole numbers and scaled here: the same values, in a third of the time.
_WHOLE: dict[str, tuple[type[np.int16 | np.int32], float]] = {
    "PCM_S8": (np.int16, 2.0**-15),
    "PCM_U8": (np.int16, 2.0**-15),
    "PCM_16": (np.int16, 2.0**-15),
    "PCM_24": (np.int32, 2.0**-31),
    "PCM_32": (np.int32, 2.0**-31),
}
_PAGE_BYTES = 65_307  # an Ogg page is no longer (RFC 3533, 6)


@dataclass(frozen=True, slots=True)
class SoundReader:
    """Sampled sound of 8 to 64 bits a sample, packed or not; channels are numbered from 1.

    Parameters
    ----------
    format
        Which of the three containers.
    """

    format: Literal["WAV", "FLAC", "Ogg"]

    def sniff(self, source: Source) -> bool:
        """Look for the container's signature."""
        if self.format == "WAV":
            return source.head[:4] in (b"RIFF", b"RF64") and source.head[8:12] == b"WAVE"
        return source.head[:4] == (b"fLaC" if self.format == "FLAC" else b"OggS")

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Decode the file; values run from -1 to 1 and carry no unit.

        Raises
        ------
        ReadError
            If the file is cut off, damaged or has no samples.
        """
        if self.format == "WAV":
            _check_length(source)
        if self.format == "Ogg":
            _check_last_page(source)
        try:
            file = soundfile.SoundFile(str(source.path))
        except TROUBLE:
            raise self._damaged() from None
        with file:
            known = 0 < file.frames < _UNKNOWN_FRAMES
            if not file.frames:
                raise _empty(self.format)
            refuse_channels(file.channels)
            if known:
                # Before anything is unpacked: some codings grow twentyfold and more.
                refuse_too_many(file.channels * file.frames)
                refuse_swollen(file.channels * file.frames, source.size)
            notes = [
                say("Values are a fraction of full scale; the set-up says how many volts that is.")
            ]
            if not file.subtype.startswith(_EXACT):
                notes.append(
                    say(
                        "The file's coding is made for the ear and changes curves a little; save "
                        "as WAV or FLAC where that can be chosen."
                    )
                )
            yield Stream(
                format=self.format,
                columns=tuple(Column(str(number)) for number in range(1, file.channels + 1)),
                blocks=self._blocks(file, file.frames if known else None),
                rate_hz=float(file.samplerate),
                full_scale=True,
                rows=file.frames if known else None,
                notes=notes,
                coding=file.subtype,
            )

    def _blocks(self, file: soundfile.SoundFile, left: int | None) -> Iterator[Block]:
        dtype, scale = _WHOLE.get(file.subtype, (np.float32, 1.0))
        # The count is asked for by number: not every coding says where its end is.
        while left is None or left > 0:
            wanted = BLOCK_ROWS if left is None else min(left, BLOCK_ROWS)
            try:
                rows = file.read(wanted, dtype=dtype.__name__, always_2d=True)
            except TROUBLE:
                raise self._damaged() from None
            if rows.shape[0] == 0:
                if left is None:
                    return
                raise ReadError(
                    say(
                        "This {format} file is cut off: {left} samples are missing; save or copy "
                        "it again.",
                        format=self.format,
                        left=left,
                    )
                )
            left = None if left is None else left - rows.shape[0]
            yield Block(_channels(rows, scale))

    def _damaged(self) -> ReadError:
        return ReadError(
            say(
                "This {format} file is damaged or of a kind that cannot be decoded; save "
                "it again as plain PCM WAV.",
                format=self.format,
            )
        )


def _channels(rows: NDArray[Any], scale: float) -> Samples:
    """Return samples by channel, as shares of full scale."""
    values = np.empty(rows.shape[::-1], dtype=np.float32)
    np.copyto(values, rows.T, casting="same_kind")
    if scale != 1.0:
        np.multiply(values, np.float32(scale), out=values)
    return values


def _empty(kind: str) -> ReadError:
    return ReadError(
        say("This {kind} file holds no samples; record again and save it anew.", kind=kind)
    )


def _check_length(source: Source) -> None:
    """Compare the data chunk's stated length with the file's.

    The decoder reads a cut-off file short without a word, and half a capture judged as a
    whole one would be wrong in silence. Chunk layout: RIFF/WAVE (Microsoft and IBM,
    Multimedia Programming Interface and Data Specifications 1.0, 1991).
    """
    long_bytes = _long_data_bytes(source.head)
    with source.path.open("rb") as file:
        at = 12
        while at + 8 <= source.size:
            file.seek(at)
            name, length = struct.unpack("<4sI", file.read(8))
            if name == b"data":
                stated = long_bytes if long_bytes is not None else length
                if stated not in _UNKNOWN_SIZE and at + 8 + stated > source.size:
                    missing = at + 8 + stated - source.size
                    raise ReadError(
                        say(
                            "This WAV file is cut off: {missing} bytes of samples are missing; "
                            "save or copy it again.",
                            missing=missing,
                        )
                    )
                return
            at += 8 + length + (length & 1)
    raise _empty("WAV")


def _long_data_bytes(head: bytes) -> int | None:
    """Return the samples' length where it needs 64 bits (RF64: EBU Tech 3306), else None."""
    if head[:4] != b"RF64" or head[12:16] != b"ds64" or len(head) < 36:
        return None
    return int(struct.unpack_from("<Q", head, 28)[0])


def _check_last_page(source: Source) -> None:
    """Look for the page that ends the stream; without it the file is only a part.

    Raises
    ------
    ReadError
        If the last page does not say that it is the last (RFC 3533, 6: flag 0x04).
    """
    with source.path.open("rb") as file:
        file.seek(max(0, source.size - _PAGE_BYTES))
        tail = file.read()
    at = tail.rfind(b"OggS")
    if at < 0 or at + 6 > len(tail) or not tail[at + 5] & 0x04:
        raise ReadError(say("This Ogg file is cut off: its end is missing; save or copy it again."))
