"""Taking a file in by parts: begun, grown, given up; `capture_add` makes it a capture."""

import hashlib
import hmac
import shutil
from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Count, QuerySet, Sum
from django.db.models.functions import Now

from shopdiag.people.models import Member, Shop
from traces.models import PartialUpload
from traces.runs.debris import partial_drop
from traces.selectors.partials import partial_get
from traces.uploads.headers import PartHead
from traces.uploads.request_files import (
    NoRoomError,
    arrived_bytes,
    arriving_folder,
    arriving_remove,
    part_write,
)
from traces.uploads.upload import capture_limit_bytes, plain_name, size_refusal

MOST_OPEN = 20
"""Uploads that one member may have begun and not finished; a form takes no more at once."""

MOST_OPEN_IN_SHOP = 60
_MOST_TIMES_THE_LIMIT = 5
_MOST_TIMES_THE_LIMIT_IN_SHOP = 15
_RESTS_AFTER = timedelta(hours=1)
"""Where room is short, uploads that nobody went on with for so long make place."""

_KEPT_FREE_BYTES = 200_000_000
"""Database, samples and results need room too."""


class PartRefusedError(ValidationError):
    """An upload or a part of it is not taken; the text is one sentence with what to do."""


class PartDamagedError(PartRefusedError):
    """A part is not what its digest says: it was changed on its way and may be sent again."""


@dataclass
class WrongPlaceError(Exception):
    """A part does not begin where the file ends so far; `received_bytes` says where that is."""

    received_bytes: int


def partial_begin(*, member: Member, name: str, size_bytes: int) -> PartialUpload:
    """Promise to take a file in by parts.

    Parameters
    ----------
    name
        The file's name as its sender has it; only shown, never used as a path.
    size_bytes
        How long the whole is.

    Raises
    ------
    PartRefusedError
        If the file is empty or over the limit, or too many uploads are not finished.
    NoRoomError
        If the disk could not hold it.
    """
    name = plain_name(name)
    if refusal := size_refusal(name, size_bytes):
        raise PartRefusedError(refusal)
    with transaction.atomic():
        # One of a shop at a time, so that the count holds.
        Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
        if not _fits(member, size_bytes) and not _make_place(member, size_bytes):
            raise PartRefusedError(
                "Too many uploads are begun and not finished; finish or cancel one of them, "
                "or try again in an hour."
            )
        _check_disk(size_bytes)
        return PartialUpload.objects.create(
            shop_id=member.shop_id, created_by=member, name=name, size_bytes=size_bytes
        )


def part_take(*, member: Member, token: UUID, head: PartHead, data: bytes) -> int:
    """Add a part to its upload; return how much of the file is here now.

    The part is written first and counted afterwards, under the row's lock: if this process
    ends between the two, the next part is written over it.

    Parameters
    ----------
    head
        What the sender says of the part.

    Raises
    ------
    PartialUpload.DoesNotExist
        If the member has no such upload under way.
    WrongPlaceError
        If the part does not begin where the file ends so far.
    PartRefusedError
        If the part is not what was announced; a `PartDamagedError` if its digest is another.
    NoRoomError
        If the disk is full.
    """
    place = head.place
    if len(data) != place.size:
        raise PartDamagedError("The part came in short or long; send it again.")
    if not hmac.compare_digest(hashlib.sha256(data).digest(), head.digest):
        raise PartDamagedError("The part was changed on its way; send it again.")
    with transaction.atomic():
        rows = PartialUpload.objects.select_for_update()
        row = partial_get(member, token, rows=rows)
        if place.total != row.size_bytes:
            raise PartRefusedError(
                f"“{row.name}” was announced with {row.size_bytes} bytes and has {place.total} "
                "now; choose the file again."
            )
        # After a power cut the disk may know less than the row.
        received = min(row.received_bytes, arrived_bytes(token))
        if place.start != received:
            if received < row.received_bytes:
                _note(row, received)
            wrong = WrongPlaceError(received)
        else:
            part_write(token, place.start, data)
            _note(row, place.stop, head.whole)
            return place.stop
    raise wrong


def partial_cancel(*, member: Member, token: UUID) -> None:
    """Give an upload up and remove what is here of it.

    Raises
    ------
    PartialUpload.DoesNotExist
        If the member has no such upload under way.
    """
    partial_drop(partial_get(member, token))


def partial_finish(*, token: UUID, sha256: str) -> bool:
    """Note that an upload became a capture; return whether it was still under way.

    Call it in the transaction that makes the capture. The row stays for a day, so that the
    form finds the capture when it is sent again; its file goes once the capture is sure.
    """
    done = PartialUpload.objects.filter(pk=token, finished_at=None).update(
        finished_at=Now(), touched_at=Now(), sha256=sha256
    )
    if done:
        transaction.on_commit(partial(arriving_remove, token), robust=True)
    return bool(done)


def partial_discard(*, token: UUID) -> None:
    """Remove an upload that was here whole and became no capture."""
    partial_drop(PartialUpload(pk=token))


def _note(row: PartialUpload, received: int, whole: bytes | None = None) -> None:
    given = {"sha256": whole.hex()} if whole else {}
    PartialUpload.objects.filter(pk=row.pk).update(
        received_bytes=received, touched_at=Now(), **given
    )


def _open(member: Member) -> QuerySet[PartialUpload]:
    return PartialUpload.objects.seen_by(member).filter(finished_at=None)


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
                transaction.on_commit(partial(arriving_remove, token), robust=True)
        if _fits(member, size_bytes):
            return True
    return False


def _check_disk(size_bytes: int) -> None:
    """Refuse now what could only fail after long sending."""
    begun = PartialUpload.objects.filter(finished_at=None).aggregate(
        promised=Sum("size_bytes", default=0), received=Sum("received_bytes", default=0)
    )
    wanted = size_bytes + begun["promised"] - begun["received"] + _KEPT_FREE_BYTES
    folder = arriving_folder()
    folder.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(folder).free < wanted:
        raise NoRoomError
