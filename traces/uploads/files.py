"""Where uploads lie until they are whole, and how one is taken over."""

import errno
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.utils.translation import gettext

from traces.uploads.limits import IncomingFile

PART_BYTES = 8 * 1024 * 1024
"""The most that is held in memory of a request: more is written and counted bit by bit."""

FOLDER = "uploads"
"""Beside the captures, so that a whole file is moved there and never copied."""

_LINK = ".link"
_FULL = {errno.ENOSPC, errno.EDQUOT}
_CHUNK_BYTES = 1024 * 1024


class NoRoomError(Exception):
    """The disk cannot hold more; the words say what to do."""

    def __init__(self) -> None:
        super().__init__(
            gettext(
                "The server's disk is full, so nothing more can be taken in; tell whoever looks "
                "after it to make room, then go on."
            )
        )


def uploads_folder() -> Path:
    """Return where uploads lie."""
    return Path(settings.MEDIA_ROOT) / FOLDER


def upload_path(token: UUID) -> Path:
    """Return the file that an upload grows in: named by its token, never by its sender."""
    return uploads_folder() / token.hex


def stored_bytes(token: UUID) -> int:
    """Return how long the file is by now; 0 before its first part."""
    try:
        return upload_path(token).stat().st_size
    except FileNotFoundError:
        return 0


def content_write(token: UUID, start: int, data: bytes) -> None:
    """Put a part at its place; what lay there or behind it came from a part that was cut short.

    Raises
    ------
    NoRoomError
        If the disk is full; what was written of the part is given back.
    """
    path = upload_path(token)
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT, 0o640)
        with os.fdopen(handle, "wb", buffering=0) as file:
            file.truncate(start)
            file.seek(start)
            left = memoryview(data)
            try:
                while left:
                    left = left[file.write(left) :]
            except OSError:
                file.truncate(start)
                raise
    except OSError as error:
        if error.errno in _FULL:
            raise NoRoomError from error
        raise


def content_remove(token: UUID) -> None:
    """Remove what is here of an upload, if anything."""
    for path in (upload_path(token), _link_path(token)):
        path.unlink(missing_ok=True)


def stored_uploads() -> dict[str, list[Path]]:
    """Return the files that lie here by the token in their names."""
    found: dict[str, list[Path]] = {}
    with suppress(FileNotFoundError):
        for path in uploads_folder().iterdir():
            found.setdefault(path.name.removesuffix(_LINK), []).append(path)
    return found


def _link_path(token: UUID) -> Path:
    return upload_path(token).with_suffix(_LINK)


class WholeUpload(IncomingFile):
    """An upload that is here whole, for those who take files; it holds nothing open.

    Parameters
    ----------
    token
        Its token.
    sha256
        What its sender says the whole is; "" where they did not. Of an upload that was taken
        in already, what it was.
    taken
        Whether it became a capture already: its content is there, and no longer here.
    """

    def __init__(self, *, token: UUID, name: str, size: int, sha256: str, taken: bool) -> None:
        super().__init__(name=name, size=size)
        self.token = token
        self.sha256 = sha256
        self.taken = taken

    def seek(self, *_: int) -> int:
        """Do nothing: each reading begins at the start."""
        return 0

    def chunks(self, chunk_size: int | None = None) -> Iterator[bytes]:
        """Yield the content, as long as the upload is and no longer."""
        left = self.size or 0
        with upload_path(self.token).open("rb") as file:
            while left and (block := file.read(min(chunk_size or _CHUNK_BYTES, left))):
                left -= len(block)
                yield block

    def temporary_file_path(self) -> str:
        """Return a second name of the file, for the storage to move to its own place.

        The first name stays until the capture's row is committed: whatever happens before,
        the upload can be taken in again. Where a disk knows no second names, the file itself
        goes.
        """
        path, link = upload_path(self.token), _link_path(self.token)
        link.unlink(missing_ok=True)
        try:
            os.link(path, link)
        except OSError as error:
            if error.errno == errno.ENOENT:
                raise
            return str(path)
        return str(link)
