"""ZIP and gzip around one recording: unpacked with limits, never to a name the archive gives."""

import gzip
import struct
import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import IO, Protocol

from shopdiag.people.core.words import Text, say
from traces.core.readers.not_a_recording import is_office, refusal_of
from traces.core.readers.read_error import ReadError
from traces.core.readers.recording import FREE_BYTES, MOST_RATIO, TROUBLE, Reader, Source
from traces.core.readers.stream import Stream

HEAD_BYTES = 64 * 1024
MOST_BYTES = 6 << 30
"""Unpacked: a hundred million rows of text take half of that."""
_PIECE_BYTES = 1 << 20
_END = struct.Struct("<4s4H2LH")  # end of central directory (APPNOTE 6.3.10, 4.3.16)
_LOCATOR = struct.Struct("<4sLQL")  # of the record for large archives (4.3.15)
_LONG_END = struct.Struct("<4sQ2H2L4Q")  # that record (4.3.14)
_LONGEST_COMMENT = 1 << 16
_MOST_DIRECTORY_BYTES = 1 << 20
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)  # others may ask for gigabytes themselves
_DAMAGED = say("This {kind} is damaged or cut off; pack or copy it again, or send the file itself.")


class _Readable(Protocol):
    def read(self, size: int, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class PackedReader:
    """One recording of any other format inside of a ZIP or gzip archive.

    Parameters
    ----------
    readers
        Those that are asked about what is inside.
    """

    readers: Sequence[Reader]
    format: str = "archive"

    def sniff(self, source: Source) -> bool:
        """Look for the archive's signature."""
        return is_packed(source.head) and not is_office(source.head)

    @contextmanager
    def open(self, source: Source) -> Iterator[Stream]:
        """Unpack into a file of our own and read that.

        Raises
        ------
        ReadError
            If the archive is damaged, holds anything but one recording, or unpacks to more
            than a recording can be.
        """
        folder = unpacked_folder()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder) as unpacked:
            if source.head.startswith(b"PK"):
                name = _unzip(source, unpacked)
            else:
                name = source.name.removesuffix(".gz")
                _gunzip(source, unpacked)
            unpacked.flush()
            inside = replace(
                source_of(Path(unpacked.name), name, source.rate_hz),
                as_text=source.as_text,
                recall=source.recall,
            )
            if inside.size == 0:
                raise ReadError(
                    say("The file “{name}” in the archive is empty; pack it again.", name=name)
                )
            for reader in self.readers:
                if reader.sniff(inside):
                    with reader.open(inside) as stream:
                        stream.notes.insert(
                            0, say("“{name}” was unpacked from the archive.", name=name)
                        )
                        yield stream
                    return
            if is_packed(inside.head):
                raise ReadError(
                    say("There is an archive inside of the archive; send the file itself.")
                )
            raise refusal_of(inside)


def unpacked_folder() -> Path:
    """Return where archives are unpacked; what lies there long was left by a killed process."""
    return Path(tempfile.gettempdir()) / "shopdiag-unpacked"


def is_packed(head: bytes) -> bool:
    """Return whether a file begins like a ZIP or gzip archive."""
    return head.startswith((b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b"))


def source_of(path: Path, name: str, rate_hz: float | None) -> Source:
    """Return a file as readers are given it."""
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    return Source(path=path, name=name, size=path.stat().st_size, head=head, rate_hz=rate_hz)


def open_zip(source: Source) -> zipfile.ZipFile:
    """Open a ZIP archive whose directory is small enough to be held.

    Raises
    ------
    ReadError
        If it is damaged, or lists more than any recording has.
    """
    with source.path.open("rb") as file:
        file.seek(max(0, source.size - _END.size - _LONGEST_COMMENT))
        tail = file.read()
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or at + _END.size > len(tail):
        raise ReadError(_DAMAGED.filled(kind=say("ZIP archive")))
    directory_bytes = _END.unpack_from(tail, at)[5]
    locator_at = source.size - len(tail) + at - _LOCATOR.size
    directory_bytes = max(directory_bytes, _long_directory_bytes(source, locator_at))
    if directory_bytes > _MOST_DIRECTORY_BYTES:
        raise ReadError(say("This ZIP archive lists too many files; pack the recording alone."))
    try:
        return zipfile.ZipFile(source.path)
    except TROUBLE:
        raise ReadError(_DAMAGED.filled(kind=say("ZIP archive"))) from None


def _long_directory_bytes(source: Source, locator_at: int) -> int:
    """Return the directory's size by the longer record of large archives; 0 without one.

    That record wins over the short one behind it, whatever the short one says.
    """
    sizes = [0]
    with source.path.open("rb") as file:
        file.seek(max(0, locator_at))
        locator = file.read(_LOCATOR.size)
        if locator_at < 0 or not locator.startswith(b"PK\x06\x07"):
            return 0
        # where it says, and where it lies if something was put before the archive
        for at in (_LOCATOR.unpack(locator)[2], locator_at - _LONG_END.size):
            file.seek(min(max(0, at), source.size))
            record = file.read(_LONG_END.size)
            if len(record) == _LONG_END.size and record.startswith(b"PK\x06\x06"):
                sizes.append(_LONG_END.unpack(record)[8])
    return max(sizes)


def unpack(
    packed: _Readable, into: IO[bytes], packed_bytes: int, kind: Text, most_bytes: int = MOST_BYTES
) -> None:
    """Copy what comes out of an archive, as long as it is what a recording may be.

    Parameters
    ----------
    most_bytes
        What other members of the archive left of `MOST_BYTES`.

    Raises
    ------
    ReadError
        If it is damaged, grows beyond `most_bytes`, or beyond `MOST_RATIO` times its packed
        size.
    """
    done = 0
    most = min(most_bytes, max(FREE_BYTES, MOST_RATIO * packed_bytes))
    while True:
        try:
            piece = packed.read(_PIECE_BYTES)
        except TROUBLE:
            raise ReadError(_DAMAGED.filled(kind=kind)) from None
        if not piece:
            return
        done += len(piece)
        if done > most:
            raise ReadError(
                say(
                    "This {kind} unpacks to far more than a recording is; send the file itself.",
                    kind=kind,
                )
            )
        into.write(piece)


def _unzip(source: Source, into: IO[bytes]) -> str:
    with open_zip(source) as archive:
        members = [member for member in archive.infolist() if _is_file(member)]
        names = [member.filename for member in members]
        if "[Content_Types].xml" in names:
            raise ReadError(
                say(
                    "This is an office document, not a recording; save the recording as CSV "
                    "or WAV and choose that file."
                )
            )
        if len(members) != 1:
            held = say("no file") if not members else say("{count} files", count=len(members))
            raise ReadError(
                say(
                    "This ZIP archive holds {held}; pack one recording, or send them bare.",
                    held=held,
                )
            )
        member = members[0]
        if member.flag_bits & 0x1:
            raise ReadError(
                say("This ZIP archive is locked with a password; send the file itself.")
            )
        if member.compress_type not in _METHODS:
            raise ReadError(
                say(
                    "This ZIP archive is packed in a way that is not read here; send the "
                    "file itself."
                )
            )
        try:
            packed = archive.open(member)
        except TROUBLE:
            raise ReadError(_DAMAGED.filled(kind=say("ZIP archive"))) from None
        with packed:
            unpack(packed, into, member.compress_size, say("ZIP archive"))
        return _shown(names[0])


def _gunzip(source: Source, into: IO[bytes]) -> None:
    with gzip.open(source.path) as packed:
        unpack(packed, into, source.size, say("gzip archive"))


def _is_file(member: zipfile.ZipInfo) -> bool:
    """Return whether a member is a file that somebody packed, not an operating system's own."""
    path = PurePosixPath(member.filename)
    return not (member.is_dir() or path.name.startswith(".") or "__MACOSX" in path.parts)


def _shown(name: str) -> str:
    last = PurePosixPath(name.replace("\\", "/")).name
    return "".join(c for c in last if c.isprintable())[:80] or "file"
