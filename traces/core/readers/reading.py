"""Files of recorded signals: one reader a format, asked in order."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeAlias

import numpy as np

from shopdiag.people.core.words import say
from traces.core.readers.case_files import CaseReader
from traces.core.readers.correcting import corrected_recording, corrected_stream, is_table
from traces.core.readers.correction import Correction, CorrectionError
from traces.core.readers.delimited import DelimitedReader
from traces.core.readers.edge_times import EdgeTimesReader
from traces.core.readers.gathering import gather
from traces.core.readers.isolated import UNTRUSTED, IsolatedReader
from traces.core.readers.not_a_recording import refusal_of
from traces.core.readers.numpy_files import NumpyReader
from traces.core.readers.packed import PackedReader, source_of
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import Reader, Recording, Source
from traces.core.readers.shape import shape_of
from traces.core.readers.sound import SoundReader
from traces.core.readers.stream import Stream

__all__ = [
    "READERS",
    "Correction",
    "CorrectionError",
    "ReadError",
    "Reader",
    "Recording",
    "Source",
    "read",
]

_FINEST_S = 1e-4  # of what an analysis lays between samples
_LEAST_OF_STEP = 0.3  # of a step: figures of 64 bits are so coarse at most

Recall: TypeAlias = Callable[[str], Correction | None]

# A format with a signature comes before one that is only recognised by its content.
_BARE: tuple[Reader, ...] = (
    SoundReader("WAV"),
    SoundReader("FLAC"),
    SoundReader("Ogg"),
    NumpyReader(),
    CaseReader(),
    *map(IsolatedReader, UNTRUSTED),
    EdgeTimesReader(),
    DelimitedReader(),
)
READERS: tuple[Reader, ...] = (*_BARE[:-1], PackedReader(_BARE), _BARE[-1])


def read(
    path: Path,
    *,
    name: str | None = None,
    rate_hz: float | None = None,
    folder: Path | None = None,
    keep_at: Path | None = None,
    correction: Correction | None = None,
    recall: Recall | None = None,
) -> Recording:
    """Read a recording of any known format, in memory that does not grow with its length.

    Parameters
    ----------
    path
        Where the file lies.
    name
        What the user calls it, where that differs (an upload's original name).
    rate_hz
        Sample rate for files that do not carry one; the file's own rate wins.
    folder
        Where the samples of a long recording lie, in files without a name; the system's
        folder for such files where None.
    keep_at
        A NumPy file to be written that holds the samples, shape (channels, samples); the
        recording's channels are then maps of it. Where reading fails there is no such file.
    correction
        What a person says about this file; it wins over whatever the file says.
    recall
        Returns, for the file's shape, what was said about files of that shape before; asked
        where no `correction` is given.

    Raises
    ------
    ReadError
        If the file cannot be read as a recording, or the correction does not fit it; one
        sentence that says what to do.
    """
    try:
        source = source_of(path, name or path.name, rate_hz)
    except FileNotFoundError:
        raise ReadError(
            say("There is no file “{name}”; check its name.", name=name or path.name)
        ) from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReadError(
            say(
                "The file “{name}” cannot be opened ({reason}); choose another.",
                name=name or path.name,
                reason=reason,
            )
        ) from None
    if source.size == 0:
        raise ReadError(say("The file is empty; save the recording again and choose that file."))
    told = (
        replace(source, recall=recall)
        if correction is None
        else _with_correction(source, correction)
    )
    return _with_near_start(_read(told, folder, keep_at))


def _with_near_start(recording: Recording) -> Recording:
    """Return the recording with a start near enough for times to differ from sample to sample."""
    finest_s = min(_FINEST_S, 1.0 / recording.rate_hz) if recording.rate_hz else _FINEST_S
    if np.spacing(abs(recording.t0_s)) <= _LEAST_OF_STEP * finest_s:
        return recording
    said = say(
        "The file begins at {t0_s} s, too far from 0 to tell its samples' times "
        "apart; they are counted from 0.",
        t0_s=f"{recording.t0_s:.6g}",
    )
    return replace(recording, t0_s=0.0, notes=(*recording.notes, said))


def _with_correction(source: Source, correction: Correction) -> Source:
    as_text = bool(correction.text.to_json())
    return replace(source, as_text=as_text, recall=lambda _shape: correction)


def _read(source: Source, folder: Path | None, keep_at: Path | None) -> Recording:
    for reader in READERS:
        if reader.sniff(source):
            with reader.open(source) as stream:
                shape = shape_of(stream)
                said = source.recall(shape) if source.recall else None
                if not said:
                    return _about(gather(stream, folder=folder, keep_at=keep_at), stream, shape)
                if not said.text.to_json() or is_table(stream) or source.as_text:
                    made = corrected_stream(stream, said)
                    recording = _about(gather(made, folder=folder, keep_at=keep_at), stream, shape)
                    return corrected_recording(recording, said)
            # what was recalled says that it is text with columns, and another reader took it
            return replace(_read(_with_correction(source, said), folder, keep_at), shape=shape)
    raise refusal_of(source)


def _about(recording: Recording, stream: Stream, shape: str) -> Recording:
    return replace(recording, found=stream.columns, text=stream.text, shape=shape)
