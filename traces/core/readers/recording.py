"""What a reader hands back, and the one error it may raise."""

import importlib
import struct
import zipfile
import zlib
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from shopdiag.people.core.words import Text, say
from traces.core.readers.read_error import ReadError
from traces.core.readers.stream import Column, Stream
from traces.core.readers.text_facts import TextFacts
from traces.core.waveform import Channel, Summary, Waveform

if TYPE_CHECKING:
    from traces.core.readers.correction import Correction

NO_RATE = say("The file gives neither times nor a sample rate.")

MOST_VALUES = 300_000_000
"""Samples of all channels together: what a worker's memory holds, however well a file packs."""

MOST_CHANNELS = 64

MOST_RATIO = 250
"""Unpacked over packed, beyond the first megabytes; measured text packs 3 to 20 times."""

FREE_BYTES = 16 << 20

TROUBLE: tuple[type[Exception], ...] = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    BufferError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)
"""What a library may raise on bytes it cannot make sense of. Named one by one, so that the
worker's time limit, an exception of its own, still gets through."""


def optional(kind: str, module: str, package: str) -> Any:  # noqa: ANN401 - they have no types
    """Import a library that not every installation has.

    Raises
    ------
    ReadError
        If it is not there; the sentence says what to install.
    """
    try:
        return importlib.import_module(module)
    except ImportError:
        raise ReadError(
            say(
                "{kind} files need the library {package}: whoever keeps this "
                "installation adds it with “pip install -r requirements-daq.txt”; until "
                "then save as CSV or WAV.",
                kind=kind,
                package=package,
            )
        ) from None


def refuse_too_many(values: int) -> None:
    """Refuse more samples than can be held.

    Raises
    ------
    ReadError
        If `values`, counted over all channels, is more than `MOST_VALUES`.
    """
    if values > MOST_VALUES:
        raise ReadError(
            say(
                "The file holds more samples than can be worked on at once; save a "
                "shorter stretch around the cranking, or fewer channels."
            )
        )


def refuse_swollen(values: int, packed_bytes: int) -> None:
    """Refuse a file that would unpack to far more than it weighs.

    Raises
    ------
    ReadError
        If `values` as 32-bit samples are more than `MOST_RATIO` times the file, and too many
        to be taken anyway.
    """
    if 4 * values > max(FREE_BYTES, MOST_RATIO * packed_bytes):
        raise ReadError(
            say(
                "The file unpacks to far more than a recording is; save the recording as "
                "WAV or CSV."
            )
        )


def refuse_channels(channels: int) -> None:
    """Refuse more channels than anybody can look at.

    Raises
    ------
    ReadError
        If there are more than `MOST_CHANNELS`.
    """
    if channels > MOST_CHANNELS:
        raise ReadError(
            say(
                "The file has {channels} channels; at most {most_channels} can be read, "
                "so export fewer.",
                channels=channels,
                most_channels=MOST_CHANNELS,
            )
        )


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """A file's content as it was understood.

    Parameters
    ----------
    format
        Plain name of the kind of file ("delimited text", "WAV").
    channels
        The recorded signals, equally long; long ones are memory-mapped.
    t0_s
        Time of the first sample as the file counts it.
    rate_hz
        Samples per second; None where neither the file nor the caller says.
    uniform
        Whether the file's own time steps were even. Uneven ones have been put on an even
        grid and a note says so.
    notes
        What was assumed or repaired, one sentence each.
    full_scale
        Whether values are shares of full scale (-1 to 1) rather than a unit.
    summaries
        Extremes and gaps of each channel, made while the file was read.
    found
        The channels as the file has them, before any correction of theirs.
    text
        How a text was taken apart; None for other files.
    shape
        Digest of the file's structure: the next export of the same logger has the same.
    correction
        What a person said about the file, where somebody did.
    """

    format: str
    channels: tuple[Channel, ...]
    t0_s: float
    rate_hz: float | None
    uniform: bool = True
    notes: tuple[Text, ...] = ()
    full_scale: bool = False
    summaries: tuple[Summary, ...] = field(default=())
    found: tuple[Column, ...] = ()
    text: TextFacts | None = None
    shape: str = ""
    correction: "Correction | None" = None

    @property
    def samples(self) -> int:
        """Samples per channel."""
        return self.channels[0].values.size if self.channels else 0

    @property
    def waveform(self) -> Waveform:
        """The channels on their time base.

        Raises
        ------
        ReadError
            If the sample rate is not known.
        """
        if self.rate_hz is None:
            raise ReadError(
                say(
                    "The file does not say how fast it was sampled; enter the sample rate in hertz."
                )
            )
        return Waveform(t0_s=self.t0_s, rate_hz=self.rate_hz, channels=self.channels)


@dataclass(frozen=True, slots=True)
class Source:
    """A file to read: where it lies, what the user calls it, the rate the user gave."""

    path: Path
    name: str
    size: int
    head: bytes
    """The first 64 KiB, for telling formats apart."""
    rate_hz: float | None = None
    as_text: bool = False
    """Whether a person says that it is text with columns, whatever it looks like."""
    recall: "Callable[[str], Correction | None] | None" = None
    """Returns what was said about files of a shape."""

    @property
    def whole_in_head(self) -> bool:
        """Whether `head` is all there is."""
        return self.size <= len(self.head)


class Reader(Protocol):
    """One file format: a look at the first bytes, then the reading.

    A reader keeps no state between calls. `sniff` looks at the head only and never raises;
    `open`, and the blocks it gives, raise only `ReadError` and need memory for a block,
    not for the file.
    """

    @property
    def format(self) -> str:
        """Plain name of the kind of file."""
        ...

    def sniff(self, source: Source) -> bool:
        """Return whether this file is of the reader's format."""
        ...

    def open(self, source: Source) -> AbstractContextManager[Stream]:
        """Open the file; its blocks can be taken until the context is left."""
        ...
