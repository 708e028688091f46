"""Taking a capture in."""

import hashlib
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models.functions import Now
from django.utils.translation import gettext as _

from shopdiag.people.models import Member, Shop
from traces.core.readers import READERS, Source, refusal_of
from traces.models import Capture, Reading, Work
from traces.runs.sending import send
from traces.selectors.clock import database_now
from traces.services.uploads import upload_finish
from traces.uploads.files import WholeUpload
from traces.uploads.limits import IncomingFile, plain_name, size_refusal

_HEAD_BYTES = 64 * 1024
MOST_LABEL = 120


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
    upload: IncomingFile,
    label: str = "",
    keep_duplicate: bool = False,
    rate_hz: float | None = None,
    digest: str | None = None,
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
    digest
        What `capture_digest` said of this upload, where it was asked before.

    Raises
    ------
    CaptureRefusedError
        If the file is empty, over the limit or obviously no recording; nothing is kept.

    Notes
    -----
    Whoever calls it inside a transaction of his own and rolls back hands the stored file's
    name to `stored_drop`.
    """
    if len(label.strip()) > MOST_LABEL:
        raise CaptureRefusedError(
            _("Keep the label to %(most_label)s characters; these are %(count)s.")
            % {"most_label": MOST_LABEL, "count": len(label.strip())}
        )
    name = plain_name(upload.name)
    digest = digest or capture_digest(upload=upload)
    whole = upload if isinstance(upload, WholeUpload) else None
    stored: str | None = None
    try:
        with transaction.atomic():
            # One upload of a shop at a time here, so that a double submit finds the first.
            Shop.objects.select_for_update(no_key=True).get(pk=member.shop_id)
            twin = Capture.objects.seen_by(member).filter(sha256=digest).first()
            if twin and (not keep_duplicate or (whole and whole.taken)):
                return AddedCapture(duplicate_of=twin)
            if whole and not upload_finish(token=whole.token, sha256=digest):
                raise CaptureRefusedError(_gone(name))
            capture = Capture(
                shop_id=member.shop_id,
                original_name=name,
                size_bytes=upload.size or 0,
                sha256=digest,
                label=label.strip(),
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
            transaction.on_commit(partial(send, Reading, reading.pk), robust=True)
    except BaseException:
        if stored:
            Capture.original.field.storage.delete(stored)
        raise
    return AddedCapture(capture=capture)


def stored_drop(*, name: str) -> None:
    """Remove a stored file that no capture names: one whose row went with its transaction."""
    if not Capture.objects.filter(original=name).exists():
        Capture.original.field.storage.delete(name)


def capture_digest(*, upload: IncomingFile) -> str:
    """Refuse what can be refused at once; return the content's sha256.

    It reads the whole file, so call it before a transaction that others wait for.

    Raises
    ------
    CaptureRefusedError
        If the file is empty, over the limit, obviously no recording, or not what its sender
        says it is.
    """
    name, size = plain_name(upload.name), upload.size or 0
    whole = upload if isinstance(upload, WholeUpload) else None
    if whole and whole.taken:
        return whole.sha256
    if refusal := size_refusal(name, size):
        raise CaptureRefusedError(refusal)
    digest = hashlib.sha256()
    try:
        upload.seek(0)
        for number, chunk in enumerate(upload.chunks()):
            if number == 0:
                _refuse_at_sight(name, size, chunk[:_HEAD_BYTES])
            digest.update(chunk)
    except FileNotFoundError:
        raise CaptureRefusedError(_gone(name)) from None
    if whole and whole.sha256 not in {"", digest.hexdigest()}:
        raise CaptureRefusedError(
            _(
                "“%(name)s” is not the file that was sent: it was changed while it was on "
                "its way; choose it and send it again."
            )
            % {"name": name}
        )
    return digest.hexdigest()


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
            transaction.on_commit(partial(send, Reading, reading.pk), robust=True)
    return bool(again)


def _gone(name: str) -> str:
    return _("“%(name)s” is not here any more; choose the file and send it again.") % {"name": name}


def _refuse_at_sight(name: str, size: int, head: bytes) -> None:
    """Refuse what no reader takes, a picture or a program say, before it is stored."""
    source = Source(path=Path(name), name=name, size=size, head=head)
    if any(reader.sniff(source) for reader in READERS):
        return
    raise CaptureRefusedError(f"“{name}”: {refusal_of(source)}")
