"""Photos as they are listed, and who may remove one."""

from collections.abc import Iterable

from jobs.core.stages import Stage
from jobs.models import Photo
from shopdiag.people.core.roles import Action
from shopdiag.people.models import Member


def may_remove(member: Member, photo: Photo) -> bool:
    """Return whether a member may remove a photo.

    The owner always may: a face has to go whenever somebody asks. Whoever added it may until the
    job is closed, as with all else on the card.
    """
    if member.may(Action.KEEP_SHOP):
        return True
    return photo.by_id == member.pk and photo.visit.stage != Stage.CLOSED


def photos_listed(photos: Iterable[Photo], member: Member) -> tuple[Photo, ...]:
    """Return photos with whether `member` may remove each."""
    found = tuple(photos)
    for photo in found:
        photo.may_be_removed = may_remove(member, photo)
    return found
