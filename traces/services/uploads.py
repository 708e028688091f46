"""Uploads: begun, grown, given up, finished; `capture_add` makes one a capture."""

import shutil
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from uuid import UUID

from django.db import transaction
from django.db.models import Count, QuerySet, Sum
from django.db.models.functions import Now
from django.utils.translation import gettext as _

from shopdiag.people.models import Member, Shop
from traces.models import Upload
from traces.runs.uploads import upload_drop
from traces.selectors.clock import database_now
from traces.selectors.uploads import received_bytes
from traces.uploads.files import NoRoomError, content_remove, content_write, uploads_folder
from traces.uploads.limits import capture_limit_bytes, plain_name, size_refusal
from traces.uploads.tus import Checksum

MOST_OPEN = 20
"""Uploads that one member may have begun and not finished; a form takes no more at once."""

MOST_OPEN_IN_SHOP = 60
_MOST_TIMES_THE_LIMIT = 5
_MOST_TIMES_THE_LIMIT_IN_SHOP = 15
_RESTS_AFTER = timedelta(hours=1)
"""Where room is short, uploads that nobody went on with for so long make place."""

_KEPT_FREE_BYTES = 200_000_000
"""Database, samples and results need room too."""


class UploadRefusedError(ValueError):
    """An upload or a part of it is not taken; the text is one sentence with what to do."""


class ChecksumError(UploadRefusedError):
    """A part is not what its checksum says: it was changed on its way and may be sent again."""


class TooLargeError(UploadRefusedError):
    """A file is over the limit, or a part reaches past the end that was announced."""


@dataclass
class OffsetError(Exception):
    """A part does not begin where the file ends so far; `received_bytes` says where that is."""

    received_bytes: int

    def __str__(self) -> str:
        return _("The next part begins at %(received_bytes)s.") % {
            "received_bytes": self.received_bytes
        }


def upload_create(
    *, member: Member, name: str, size_bytes: int, sha256: str = "", metadata: str = ""
) -> Upload:
    """Promise to take a file in.

    Parameters
    ----------
    name
        The file's name as its sender has it; only shown, never used as a path.
    size_bytes
        How long the whole is.
    sha256
        What the whole is, in hexadecimal digits, where the sender says so.
    metadata
        What the sender says of it, kept as it came.

    Raises
    ------
    UploadRefusedError
        If the file is empty or over the limit (`TooLargeError`), or too many uploads are not
        finished.
    NoRoomError
        If the disk could not hold it.
    """
    name = plain_name(name)
    if refusal := size_refusal(name, size_bytes):
        raise (TooLargeError if size_bytes else UploadRefusedError)(refusal)
    with transaction.atomic():
        # One of a shop at a time, so that the count holds.
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        if not _fits(member, size_bytes) and not _make_place(member, size_bytes):
            raise UploadRefusedError(
                _(
                    "Too many uploads are begun and not finished; finish or cancel one of them, "
                    "or try again in an hour."
                )
            )
        _check_disk(size_bytes)
        return Upload.objects.create(
            shop_id=member.shop_id,
            created_by=member,
            name=name,
            size_bytes=size_bytes,
            sha256=sha256,
            metadata=metadata,
        )


def upload_append(
    *,
    member: Member,
    token: UUID,
    offset: int,
    data: bytes,
    checksum: Checksum | None = None,
    sha256: str = "",
) -> Upload:
    """Add a part to an upload; return the upload as it is then.

    The part is written first and counted afterwards, under the row's lock: if this process
    ends between the two, the next part is written over it.

    Parameters
    ----------
    offset
        Where in the file the part begins.
    checksum
        What the part's sender says it is.
    sha256
        What he says the whole is, in hexadecimal digits.

    Raises
    ------
    Upload.DoesNotExist
        If the member has no such upload under way.
    OffsetError
        If the part does not begin where the file ends so far.
    UploadRefusedError
        If the part reaches past the file's end (`TooLargeError`) or is not what its checksum says
        (`ChecksumError`).
    NoRoomError
        If the disk is full.
    """
    if checksum and not checksum.matches(data):
        raise ChecksumError(_("The part was changed on its way; send it again."))
    with transaction.atomic():
        row = Upload.objects.under_way_of(member).select_for_update().get(pk=token)
        # After a power cut the disk may know less than the row.
        received = received_bytes(row)
        if offset == received:
            end = offset + len(data)
            if end > row.size_bytes:
                raise TooLargeError(
                    _(
                        "“%(name)s” was announced with %(size_bytes)s bytes and these reach to "
                        "%(end)s; choose the file again."
                    )
                    % {"name": row.name, "size_bytes": row.size_bytes, "end": end}
                )
            content_write(token, offset, data)
            _note(row, end, sha256)
            return row
        if received < row.received_bytes:
            _note(row, received)
    raise OffsetError(received)


def upload_terminate(*, member: Member, token: UUID) -> None:
    """Give an upload up and remove what is here of it.

    Raises
    ------
    Upload.DoesNotExist
        If the member has no such upload under way.
    """
    upload_drop(Upload.objects.under_way_of(member).get(pk=token))


def upload_finish(*, token: UUID, sha256: str) -> bool:
    """Note that an upload became a capture; return whether it was still under way.

    Call it in the transaction that makes the capture. The row stays for a day, so that the
    form finds the capture when it is sent again; its file goes once the capture is sure.
    """
    done = Upload.objects.filter(pk=token, finished_at=None).update(
        finished_at=Now(), touched_at=Now(), sha256=sha256
    )
    if done:
        transaction.on_commit(partial(content_remove, token), robust=True)
    return bool(done)


def upload_discard(*, token: UUID) -> None:
    """Remove an upload that was here whole and became no capture."""
    upload_drop(Upload(pk=token))


def _note(row: Upload, received: int, sha256: str = "") -> None:
    row.received_bytes = received
    row.touched_at = database_now()
    row.sha256 = sha256 or row.sha256
    row.save(update_fields=["received_bytes", "touched_at", "sha256"])


def _open(member: Member) -> QuerySet[Upload]:
    return Upload.objects.seen_by(member).filter(finished_at=None)


def _fits(member: Member, size_bytes: int) -> bool:
    limit = capture_limit_bytes()
    for rows, count, times in (
        (_open(member).filter(created_by=member), MOST_OPEN, _MOST_TIMES_THE_LIMIT),
        (_open(member), MOST_OPEN_IN_SHOP, _MOST_TIMES_THE_LIMIT_IN_SHOP),
    ):
        begun = rows.aggregate(count=Count("pk"), promised=Sum("size_bytes", default=0))
        if begun["count"] >= count or begun["promised"] + size_bytes > times * limit:
            return False
    return True


def _make_place(member: Member, size_bytes: int) -> bool:
    """Give up uploads that rest, the member's own first; return whether there is room then.

    Their files go with the commit: where there is no room all the same, nothing is lost.
    """
    resting = _open(member).filter(touched_at__lt=Now() - _RESTS_AFTER)
    for rows in (resting.filter(created_by=member), resting):
        for token in rows.values_list("pk", flat=True):
            # Asked again while deleting: its sender may just have gone on.
            if rows.filter(pk=token).delete()[0]:
                transaction.on_commit(partial(content_remove, token), robust=True)
        if _fits(member, size_bytes):
            return True
    return False


def _check_disk(size_bytes: int) -> None:
    """Refuse now what could only fail after long sending."""
    begun = Upload.objects.filter(finished_at=None).aggregate(
        promised=Sum("size_bytes", default=0), received=Sum("received_bytes", default=0)
    )
    wanted = size_bytes + begun["promised"] - begun["received"] + _KEPT_FREE_BYTES
    folder = uploads_folder()
    folder.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(folder).free < wanted:
        raise NoRoomError
