"""Audio-like recordings: WAV, values as shares of full scale."""

import struct
from collections.abc import Iterator
from contextlib import contextmanager
from string import ascii_uppercase

import numpy as np
import soundfile

from traces.core.readers.recording import ReadError, Source, refuse_too_many
from traces.core.readers.stream import BLOCK_ROWS, Block, Column, Stream

_MOST_CHANNELS = 64
_DAMAGED = (
    "This WAV file is damaged or of a kind that cannot be decoded; save it again as plain PCM WAV."
)
_UNKNOWN_SIZE = (0, 0xFFFFFFFF)  # written by recorders that stream and never come back


class WavReader:
    """RIFF/WAVE files of 8 to 64 bits a sample; channels are named A, B, C ..."""

    format = "WAV"

    def sniff(self, source: Source) -> bool:
        """Look for the RIFF or RF64 signature."""
        return source.head[:4] in (b"RIFF", b"RF64") and source.head[8:12] == b"WAVE"

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Decode the file; values run from -1 to 1 and carry no unit.

        Raises
        ------
        ReadError
            If the file is cut off, damaged or has no samples.
        """
        _check_length(source)
        try:
            file = soundfile.SoundFile(str(source.path))
        except (soundfile.LibsndfileError, RuntimeError):
            raise ReadError(_DAMAGED) from None
        with file:
            # Before anything is unpacked: some codings grow twentyfold.
            _check_size(file.channels, file.frames)
            yield Stream(
                format=self.format,
                columns=tuple(Column(_letters(number)) for number in range(file.channels)),
                blocks=_blocks(file),
                rate_hz=float(file.samplerate),
                samples=file.frames,
                full_scale=True,
                notes=["Values are shares of full scale; the set-up says how many volts that is."],
            )


def _blocks(file: soundfile.SoundFile) -> Iterator[Block]:
    # The count is asked for by number: not every coding says where its end is.
    left = file.frames
    while left:
        try:
            rows = file.read(min(left, BLOCK_ROWS), dtype="float32", always_2d=True)
        except (soundfile.LibsndfileError, RuntimeError):
            raise ReadError(_DAMAGED) from None
        if rows.shape[0] == 0:
            raise ReadError(_DAMAGED)
        left -= rows.shape[0]
        yield Block(np.ascontiguousarray(rows.T))


def _check_size(channels: int, frames: int) -> None:
    if channels > _MOST_CHANNELS:
        raise ReadError(
            f"This WAV file has {channels} channels; at most {_MOST_CHANNELS} can be read, "
            "so save fewer."
        )
    if frames == 0:
        raise ReadError("This WAV file holds no samples; record again and save it anew.")
    refuse_too_many(channels * frames)


def _letters(number: int) -> str:
    """Name a channel: A to Z, then AA, AB ..."""
    first, second = divmod(number, len(ascii_uppercase))
    return (ascii_uppercase[first - 1] if first else "") + ascii_uppercase[second]


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
                        f"This WAV file is cut off: {missing} bytes of samples are missing; "
                        "save or copy it again."
                    )
                return
            at += 8 + length + (length & 1)
    raise ReadError("This WAV file holds no samples; record again and save it anew.")


def _long_data_bytes(head: bytes) -> int | None:
    """Return the samples' length where it needs 64 bits (RF64: EBU Tech 3306), else None."""
    if head[:4] != b"RF64" or head[12:16] != b"ds64" or len(head) < 36:
        return None
    return int(struct.unpack_from("<Q", head, 28)[0])
