"""Taking a capture in."""

import hashlib
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePath

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models.functions import Now

from shopdiag.people.models import Member, Shop
from traces.core.readers import READERS, Source
from traces.core.readers.foreign import refusal_of
from traces.models import Capture, Reading, Work
from traces.runs.sending import send
from traces.selectors.clock import database_now
from traces.uploads import Upload, capture_limit_bytes

_HEAD_BYTES = 64 * 1024


class CaptureRefusedError(ValidationError):
    """The file is not taken in; the text is one sentence with what to do."""


@dataclass(frozen=True, slots=True)
class AddedCapture:
    """What became of an upload: either is set, never both.

    Parameters
    ----------
    capture
        The new capture, waiting to be read.
    duplicate_of
        The shop's capture with the very same content; nothing was stored.
    """

    capture: Capture | None = None
    duplicate_of: Capture | None = None


def capture_add(
    *,
    member: Member,
    upload: Upload,
    label: str = "",
    keep_duplicate: bool = False,
    rate_hz: float | None = None,
) -> AddedCapture:
    """Keep an uploaded file as a capture of the member's shop and have it read.

    Parameters
    ----------
    upload
        The file as it came; its name is only shown, never used as a path.
    label
        What it shows, in the person's words.
    keep_duplicate
        Make a capture of its own even when the shop has the same content already; the
        stored file is shared, not copied.
    rate_hz
        Sample rate for a file that does not carry one.

    Raises
    ------
    CaptureRefusedError
        If the file is empty, over the limit or obviously no recording; nothing is kept.
    """
    name = _plain_name(upload.name)
    digest = _checked_digest(upload, name)
    stored: str | None = None
    try:
        with transaction.atomic():
            # One upload of a shop at a time here, so that a double submit finds the first.
            Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
            twin = Capture.objects.seen_by(member).filter(sha256=digest).first()
            if twin and not keep_duplicate:
                return AddedCapture(duplicate_of=twin)
            capture = Capture(
                shop_id=member.shop_id,
                original_name=name,
                size_bytes=upload.size or 0,
                sha256=digest,
                label=label.strip()[:120],
                uploaded_by=member,
            )
            if twin:
                capture.original.name = twin.original.name
            else:
                upload.seek(0)
                capture.original.save(name, upload, save=False)
                stored = capture.original.name
            capture.save()
            reading = Reading.objects.create(
                capture=capture, rate_hz_given=rate_hz, queued_at=database_now()
            )
            capture.current_reading = reading
            capture.save(update_fields=["current_reading"])
            transaction.on_commit(partial(send, Reading, reading.pk))
    except BaseException:
        if stored:
            Capture.original.field.storage.delete(stored)
        raise
    return AddedCapture(capture=capture)


def reading_retry(*, reading: Reading) -> bool:
    """Have a capture read again whose reading failed; return whether it had failed."""
    with transaction.atomic():
        again = Reading.objects.filter(pk=reading.pk, state=Work.State.FAILED).update(
            state=Work.State.QUEUED,
            attempts=0,
            queued_at=Now(),
            sent_at=None,
            finished_at=None,
            error="",
        )
        if again:
            transaction.on_commit(partial(send, Reading, reading.pk))
    return bool(again)


def _plain_name(name: str | None) -> str:
    last = PurePath((name or "").replace("\\", "/")).name
    printable = "".join(c for c in last if c.isprintable()).strip()
    return printable[-200:] or "capture"


def _checked_digest(upload: Upload, name: str) -> str:
    """Refuse what can be refused at once; return the content's sha256."""
    size, limit = upload.size or 0, capture_limit_bytes()
    if size > limit:
        raise CaptureRefusedError(
            f"“{name}” is {size / 1e6:.0f} MB and the limit is {limit / 1e6:.0f} MB; "
            "save a shorter stretch around the cranking, or fewer channels."
        )
    if size == 0:
        raise CaptureRefusedError(
            f"“{name}” is empty; save the recording again and choose that file."
        )
    digest = hashlib.sha256()
    upload.seek(0)
    for number, chunk in enumerate(upload.chunks()):
        if number == 0:
            _refuse_at_sight(name, size, chunk[:_HEAD_BYTES])
        digest.update(chunk)
    return digest.hexdigest()


def _refuse_at_sight(name: str, size: int, head: bytes) -> None:
    """Refuse what no reader takes, a picture or a program say, before it is stored."""
    source = Source(path=Path(name), name=name, size=size, head=head)
    if any(reader.sniff(source) for reader in READERS):
        return
    raise CaptureRefusedError(f"“{name}”: {refusal_of(source)}")
