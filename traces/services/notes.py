"""Notes pinned to a place in a capture's time: added, never changed."""

from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from traces.models import Capture, PinnedNote


class NoteRefusedError(ValidationError):
    """The note cannot be struck; the text is one sentence with what to do."""


def note_pin(
    *,
    member: Member,
    capture: Capture,
    at_s: float,
    text: str,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> PinnedNote:
    """Pin a note to a place in a capture's time; the same form token pins one.

    The same words at the same place under another token are asked back unless `confirmed`.

    Parameters
    ----------
    at_s
        In the file's own time.
    """
    text = text.strip()
    with transaction.atomic():
        Capture.objects.select_for_update(no_key=True).get(pk=capture.pk)
        notes = PinnedNote.objects.filter(capture=capture)
        sent_before = notes.filter(form_token=form_token).first() if form_token else None
        if sent_before:
            return sent_before
        if form_token:
            standing = notes.filter(created_by=member, struck_by=None)
            said = {"at_s": at_s, "text": text}
            ask_back(confirmed, already_there(standing, **said), about=said)
        return PinnedNote.objects.create(
            capture=capture, at_s=at_s, text=text, form_token=form_token, created_by=member
        )


def note_strike(*, member: Member, note: PinnedNote) -> PinnedNote:
    """Strike a note by another row; the struck one stays readable. Twice strikes once.

    Raises
    ------
    NoteRefusedError
        If it is itself what struck another.
    """
    if note.strikes_id is not None:
        raise NoteRefusedError(
            _("That is no note but the striking of one; pin a new note instead.")
        )
    with transaction.atomic():
        # one at a time for a capture, so that a double press finds the first
        Capture.objects.select_for_update(no_key=True).get(pk=note.capture_id)
        earlier = PinnedNote.objects.filter(strikes=note).first()
        return earlier or PinnedNote.objects.create(
            capture_id=note.capture_id, at_s=note.at_s, text="", strikes=note, created_by=member
        )
