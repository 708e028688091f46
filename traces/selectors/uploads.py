"""Uploads, as their senders may see them."""

from collections.abc import Sequence
from uuid import UUID

from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.models import Upload
from traces.uploads.files import WholeUpload, stored_bytes


class NotWholeError(LookupError):
    """An upload that is not known, or of which parts are missing; the text says what to do."""


def received_bytes(upload: Upload) -> int:
    """Return how much of an upload is here: what was counted, as far as the disk has it."""
    return min(upload.received_bytes, stored_bytes(upload.token))


def whole_uploads(member: Member, tokens: Sequence[UUID]) -> list[WholeUpload]:
    """Return a member's own uploads that are here whole, in the order of their tokens.

    One that became a capture already is among them, so that a form which is sent again
    because its answer was lost finds the capture.

    Raises
    ------
    NotWholeError
        If one is not known or not whole.
    """
    mine = Upload.objects.seen_by(member).filter(created_by=member, pk__in=tokens)
    rows = {row.token: row for row in mine}
    return [_whole(rows.get(token)) for token in dict.fromkeys(tokens)]


def _whole(row: Upload | None) -> WholeUpload:
    if row is None:
        raise NotWholeError(
            _("This upload is not here any more; choose the file and send it again.")
        )
    taken = row.finished_at is not None
    if not taken and received_bytes(row) != row.size_bytes:
        raise NotWholeError(
            _("“%(name)s” is not here whole yet; send the rest, then go on.") % {"name": row.name}
        )
    return WholeUpload(
        token=row.token, name=row.name, size=row.size_bytes, sha256=row.sha256, taken=taken
    )
