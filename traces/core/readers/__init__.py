"""Files of recorded signals: one reader a format, asked in order."""

from pathlib import Path

from traces.core.readers.delimited import DelimitedReader
from traces.core.readers.foreign import refusal_of
from traces.core.readers.gathering import gather
from traces.core.readers.recording import Reader, ReadError, Recording, Source
from traces.core.readers.wav import WavReader

__all__ = ["READERS", "ReadError", "Reader", "Recording", "Source", "read"]

_HEAD_BYTES = 64 * 1024

# A format with a signature comes before one that is only recognised by its content.
READERS: tuple[Reader, ...] = (WavReader(), DelimitedReader())


def read(
    path: Path,
    *,
    name: str | None = None,
    rate_hz: float | None = None,
    folder: Path | None = None,
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

    Raises
    ------
    ReadError
        If the file cannot be read as a recording; one sentence that says what to do.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
    except FileNotFoundError:
        raise ReadError(f"There is no file “{name or path.name}”; check its name.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReadError(
            f"The file “{name or path.name}” cannot be opened ({reason}); choose another."
        ) from None
    if size == 0:
        raise ReadError("The file is empty; save the recording again and choose that file.")
    source = Source(path=path, name=name or path.name, size=size, head=head, rate_hz=rate_hz)
    for reader in READERS:
        if reader.sniff(source):
            with reader.open(source) as stream:
                return gather(stream, folder=folder)
    raise refusal_of(source)
