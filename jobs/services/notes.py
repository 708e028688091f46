"""Notes and photos."""

from typing import IO
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import transaction
from django.utils.translation import gettext as _

from jobs.core.photo import PhotoError, photo_clean
from jobs.models import Note, Photo, Visit, WorkOrder
from jobs.selectors.photos import may_remove
from jobs.services.timeline import event_add
from jobs.services.visits import LONGEST_REASON, check_open
from shopdiag.people.asking_back import Confirmed, already_there, ask_back
from shopdiag.people.models import Member
from shopdiag.people.typed_text import check_length


@transaction.atomic
def note_add(
    *,
    visit: Visit,
    text: str,
    member: Member,
    form_token: UUID | None = None,
    confirmed: Confirmed = False,
) -> Note:
    """Add a note; the same `form_token` sent twice gives the first one.

    The same words under another token are asked back unless `confirmed`.
    """
    if not text.strip():
        raise ValidationError({"text": _("Write the note first.")})
    visit = Visit.objects.select_for_update(no_key=True).get(pk=visit.pk)
    if form_token:
        sent_before = Note.objects.filter(visit=visit, form_token=form_token).first()
        if sent_before:
            return sent_before
    check_open(visit)
    if form_token:
        said = {"text": text.strip()}
        ask_back(confirmed, already_there(visit.notes.filter(by=member), **said), about=said)
    note = Note(visit=visit, text=text.strip(), by=member, form_token=form_token)
    note.full_clean()
    note.save()
    event_add(
        visit=visit, by=member, kind="note", words=lambda: _("added a note"), data={"note": note.pk}
    )
    return note


def photo_add(
    *,
    visit: Visit,
    file: IO[bytes],
    member: Member,
    caption: str = "",
    form_token: UUID | None = None,
    work_order: WorkOrder | None = None,
    cylinder: int | None = None,
) -> Photo:
    """Keep a picture as a new JPEG; the same `form_token` sent twice gives the first one.

    So does the same picture with the same words and place under another token.

    Raises
    ------
    ValidationError
        If the file is no picture that can be kept.
    """
    # before anything is decoded, and once more under the lock
    check_open(Visit.objects.get(pk=visit.pk))
    try:
        content = photo_clean(file)
    except PhotoError as error:
        raise ValidationError({"image": str(error)}) from error
    photo = Photo(
        visit=visit,
        work_order=work_order,
        cylinder=cylinder,
        caption=caption.strip(),
        by=member,
        form_token=form_token,
    )
    try:
        return _photo_keep(photo, content)
    except BaseException:
        # The row went with its transaction, the file would stay.
        if photo.image.name:
            photo.image.storage.delete(photo.image.name)
        raise


@transaction.atomic
def _photo_keep(photo: Photo, content: bytes) -> Photo:
    locked = Visit.objects.select_for_update(no_key=True).get(pk=photo.visit_id)
    if photo.form_token:
        sent_before = Photo.objects.filter(visit=locked, form_token=photo.form_token).first()
        if sent_before and sent_before.is_removed:
            raise ValidationError(
                {
                    "image": _(
                        "This photo was added before and then removed. Choose it anew to add it."
                    )
                }
            )
        if sent_before:
            return sent_before
    check_open(locked)
    for earlier in Photo.objects.standing().filter(
        visit=locked,
        by=photo.by,
        work_order=photo.work_order,
        cylinder=photo.cylinder,
        caption=photo.caption,
    ):
        if _is_of(earlier, content):
            return earlier
    photo.full_clean(exclude=["image", "work_order", "cylinder"])
    photo.image.save("photo.jpg", ContentFile(content), save=False)
    photo.save()
    shows = f" ({photo.caption})" if photo.caption else ""
    event_add(
        visit=locked,
        by=photo.by,
        kind="photo",
        words=lambda: _("added a photo%(shows)s") % {"shows": shows},
        data={"photo": photo.pk},
    )
    return photo


@transaction.atomic
def photo_remove(*, photo: Photo, member: Member, reason: str) -> None:
    """Remove a photo for good: its file and its words. The history tells who did it, and why.

    A second time does nothing.

    Raises
    ------
    ValidationError
        If the member may not remove it, or says no reason.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError({"reason": _("Say why the photo is removed.")})
    check_length("reason", reason, LONGEST_REASON)
    visit = Visit.objects.select_for_update(no_key=True).get(pk=photo.visit_id)
    locked = Photo.objects.select_related("by__user", "visit").get(pk=photo.pk)
    if locked.is_removed:
        return
    if not may_remove(member, locked):
        raise ValidationError(_("Only the shop's owner may remove this photo now."))
    name, storage = str(locked.image.name), locked.image.storage
    Photo.objects.filter(pk=locked.pk).update(image="", caption="")
    event_add(
        visit=visit,
        by=member,
        kind="photo",
        words=lambda: (
            _("removed a photo%(whose)s: %(reason)s")
            % {
                "whose": ""
                if locked.by_id == member.pk
                else _(" of %(by)s") % {"by": locked.by.name},
                "reason": reason,
            }
        ),
        data={"photo": locked.pk, "removed": True},
    )
    # The last step before the commit: what is recorded as removed is gone, and where it cannot
    # be deleted nothing is recorded.
    storage.delete(name)


def _is_of(photo: Photo, content: bytes) -> bool:
    """Return whether a photo's file is `content`; one that is gone is not."""
    try:
        with photo.image.open("rb") as file:
            return photo.image.size == len(content) and file.read() == content
    except FileNotFoundError:
        return False
