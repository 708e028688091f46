"""What is too large is counted while it comes in, and not kept."""

from pathlib import PurePath
from typing import TYPE_CHECKING, Any, TypeAlias

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, SkipFile, StopUpload
from django.utils.translation import gettext as _

from shopdiag.people.kept_forms import PASSED_OVER, LostFile

if TYPE_CHECKING:
    IncomingFile: TypeAlias = UploadedFile[bytes]
else:
    IncomingFile = UploadedFile

_ROOM_FOR_WORDS_BYTES = 1_000_000


class LimitHandler(FileUploadHandler):
    """Stands before the handlers that keep uploads and lets nothing over the limit through.

    A file over the limit arrives in the form without content but with its true size, so that
    the form can answer with a sentence instead of a broken connection. Of strangers nothing
    is kept at all: a page's form is read before its gate is asked. Their sessions may just have
    ended, so the words behind a file as small as a photo are still read, and its name is noted.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        self._received = 0
        self._request_bytes = 0

    def handle_raw_input(
        self,
        input_data: Any,  # noqa: ANN401 - Django's signature
        META: dict[str, str],  # noqa: N803 - Django's name
        content_length: int,
        *rest: Any,  # noqa: ANN401 - Django's signature
        **given: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        """Note how much the whole request holds."""
        self._request_bytes = content_length
        super().handle_raw_input(input_data, META, content_length, *rest, **given)

    def new_file(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().new_file(*args, **kwargs)
        self._received = 0
        if self._is_known():
            return
        lost = LostFile(self.field_name, plain_name(self.file_name))
        setattr(self.request, PASSED_OVER, [*getattr(self.request, PASSED_OVER, ()), lost])
        if self._request_bytes > settings.PHOTO_LIMIT_MB * 1_000_000 + _ROOM_FOR_WORDS_BYTES:
            raise StopUpload(connection_reset=True)
        raise SkipFile

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

    def file_complete(self, file_size: int) -> IncomingFile | None:
        if file_size <= capture_limit_bytes():
            return None
        self._drop_what_was_kept()
        return IncomingFile(
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
        return _(
            "“%(name)s” is %(size).0f MB and the limit is %(limit).0f MB; save a "
            "shorter stretch around the cranking, or fewer channels."
        ) % {"name": name, "size": size / 1000000.0, "limit": limit / 1000000.0}
    if size < 1:
        return _("“%(name)s” is empty; save the recording again and choose that file.") % {
            "name": name
        }
    return None
