"""What is too large is counted while it comes in, and not kept."""

from pathlib import PurePath
from typing import TYPE_CHECKING, Any, TypeAlias

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopUpload

if TYPE_CHECKING:
    Upload: TypeAlias = UploadedFile[bytes]
else:
    Upload = UploadedFile


class LimitHandler(FileUploadHandler):
    """Stands before the handlers that keep uploads and lets nothing over the limit through.

    A file over the limit arrives in the form without content but with its true size, so that
    the form can answer with a sentence instead of a broken connection. Of strangers nothing
    is kept at all: a page's form is read before its gate is asked.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self._received = 0

    def new_file(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().new_file(*args, **kwargs)
        self._received = 0
        if not self._is_known():
            raise StopUpload(connection_reset=True)

    def _is_known(self) -> bool:
        """Return whether the sender signed in, or was asked for a token before this."""
        request = self.request
        match = request.resolver_match if request else None
        if request is None or match is None or getattr(match.func, "csrf_exempt", False):
            # Not a page: the API knows its caller before it reads what comes with the call.
            return True
        return request.user.is_authenticated

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:  # noqa: ARG002
        self._received += len(raw_data)
        return raw_data if self._received <= capture_limit_bytes() else None

    def file_complete(self, file_size: int) -> Upload | None:
        if file_size <= capture_limit_bytes():
            return None
        self._drop_what_was_kept()
        return Upload(
            file=ContentFile(b""),
            name=self.file_name,
            content_type=self.content_type,
            size=file_size,
        )

    def _drop_what_was_kept(self) -> None:
        """End the later handlers' part: nobody asks them for this file any more."""
        for handler in self.request.upload_handlers if self.request else ():
            if handler is not self:
                handler.upload_interrupted()


def capture_limit_bytes() -> int:
    """Return the most that one capture may hold."""
    return int(settings.CAPTURE_LIMIT_MB) * 1_000_000


def plain_name(name: str | None) -> str:
    """Return what is shown of the name that a file came with."""
    last = PurePath((name or "").replace("\\", "/")).name
    printable = "".join(c for c in last if c.isprintable()).strip()
    return printable[-200:] or "capture"


def size_refusal(name: str, size: int) -> str | None:
    """Return the sentence that refuses a file for its size; None where it may come in."""
    limit = capture_limit_bytes()
    if size > limit:
        return (
            f"“{name}” is {size / 1e6:.0f} MB and the limit is {limit / 1e6:.0f} MB; "
            "save a shorter stretch around the cranking, or fewer channels."
        )
    if size < 1:
        return f"“{name}” is empty; save the recording again and choose that file."
    return None
