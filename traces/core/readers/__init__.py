"""Files of recorded signals: one reader a format, asked in order."""

from pathlib import Path

from traces.core.readers.delimited import DelimitedReader
from traces.core.readers.edge_times import EdgeTimesReader
from traces.core.readers.foreign import refusal_of
from traces.core.readers.gathering import gather
from traces.core.readers.isolated import UNTRUSTED, IsolatedReader
from traces.core.readers.numpy_files import NumpyReader
from traces.core.readers.packed import PackedReader, source_of
from traces.core.readers.recording import Reader, ReadError, Recording, Source
from traces.core.readers.sound import SoundReader

__all__ = ["READERS", "ReadError", "Reader", "Recording", "Source", "read"]

# A format with a signature comes before one that is only recognised by its content.
_BARE: tuple[Reader, ...] = (
    SoundReader("WAV"),
    SoundReader("FLAC"),
    SoundReader("Ogg"),
    NumpyReader(),
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

    Raises
    ------
    ReadError
        If the file cannot be read as a recording; one sentence that says what to do.
    """
    try:
        source = source_of(path, name or path.name, rate_hz)
    except FileNotFoundError:
        raise ReadError(f"There is no file “{name or path.name}”; check its name.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReadError(
            f"The file “{name or path.name}” cannot be opened ({reason}); choose another."
        ) from None
    if source.size == 0:
        raise ReadError("The file is empty; save the recording again and choose that file.")
    for reader in READERS:
        if reader.sniff(source):
            with reader.open(source) as stream:
                return gather(stream, folder=folder, keep_at=keep_at)
    raise refusal_of(source)
