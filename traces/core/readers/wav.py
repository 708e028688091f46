"""Audio-like recordings: WAV, values as shares of full scale."""

import struct
from string import ascii_uppercase

import numpy as np
import soundfile

from traces.core.readers.recording import ReadError, Recording, Source, refuse_too_many
from traces.core.waveform import Channel

_MOST_CHANNELS = 64
_UNKNOWN_SIZE = (0, 0xFFFFFFFF)  # written by recorders that stream and never come back


class WavReader:
    """RIFF/WAVE files of 8 to 64 bits a sample; channels are named A, B, C ..."""

    format = "WAV"

    def sniff(self, source: Source) -> bool:
        """Look for the RIFF or RF64 signature."""
        return source.head[:4] in (b"RIFF", b"RF64") and source.head[8:12] == b"WAVE"

    def read(self, source: Source) -> Recording:
        """Decode the file; values run from -1 to 1 and carry no unit.

        Raises
        ------
        ReadError
            If the file is cut off, damaged or has no samples.
        """
        _check_length(source)
        try:
            with soundfile.SoundFile(str(source.path)) as file:
                # Before anything is unpacked: some codings grow twentyfold.
                _check_size(file.channels, file.frames)
                # The count is asked for by number: not every coding says where its end is.
                values = file.read(file.frames, dtype="float32", always_2d=True)
                rate_hz = file.samplerate
        except (soundfile.LibsndfileError, RuntimeError):
            raise ReadError(
                "This WAV file is damaged or of a kind that cannot be decoded; "
                "save it again as plain PCM WAV."
            ) from None
        if values.shape[0] == 0:
            raise ReadError("This WAV file holds no samples; record again and save it anew.")
        # A coding of floating numbers can hold what is none; it counts as a gap.
        values[~np.isfinite(values)] = np.nan
        channels = tuple(
            Channel(name=_letters(number), unit=None, values=np.ascontiguousarray(column))
            for number, column in enumerate(values.T)
        )
        notes = ["Values are shares of full scale; the set-up says how many volts that is."]
        return Recording(
            format=self.format,
            channels=channels,
            t0_s=0.0,
            rate_hz=float(rate_hz),
            notes=tuple(notes),
            full_scale=True,
        )


def _check_size(channels: int, frames: int) -> None:
    if channels > _MOST_CHANNELS:
        raise ReadError(
            f"This WAV file has {channels} channels; at most {_MOST_CHANNELS} can be read, "
            "so save fewer."
        )
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
