"""Who did what, when: lines that are added and never changed."""

from typing import Any, ClassVar, Self
from uuid import uuid4

from django.db import models
from django.utils import timezone
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_lazy as _

from jobs.models.intake import Visit
from jobs.models.work import WorkOrder
from shopdiag.people.models import InShop, Member, ShopOwned, ShopQuerySet


class AppendOnlyError(RuntimeError):
    """Somebody's code tried to change or remove a line that only ever gets company."""


LONGEST_LINE = 400
TOLD = "told"
"""In a line's data: the same line in each language on offer, by their codes."""


class TimelineEvent(ShopOwned):
    """One line of a visit's timeline."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    """None where the worker did it."""
    kind = models.CharField(max_length=30)
    words = models.CharField(max_length=LONGEST_LINE)
    """As whoever did it read it."""
    data = models.JSONField(default=dict)

    class Meta:
        ordering = ["pk"]

    @property
    def told(self) -> str:
        """The line in the reader's language; lines from before that was kept stand as written."""
        language = get_language() or ""
        told: dict[str, str] = self.data.get(TOLD, {})
        # a region writes numbers otherwise, not words
        return told.get(language) or told.get(language.split("-")[0]) or self.words

    def save(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        if not self._state.adding:
            raise AppendOnlyError(gettext("A timeline line is never changed; add another one."))
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:  # noqa: ANN401, ARG002
        raise AppendOnlyError(gettext("A timeline line is never removed."))


class Note(models.Model):
    """A remark on a visit; never edited."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="notes")
    text = models.TextField(_("note"), max_length=4000)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    form_token = models.UUIDField(null=True, unique=True, editable=False)

    class Meta:
        ordering = ["pk"]


def photo_path(photo: "Photo", filename: str) -> str:  # noqa: ARG001 - the sender's name is not used
    """Return where a photo is kept; it is always re-encoded as JPEG."""
    return f"photos/{photo.visit.shop_id}/{uuid4().hex}.jpg"


class PhotoQuerySet(ShopQuerySet["Photo"]):
    """Photos."""

    def standing(self) -> Self:
        """Return those that nobody removed."""
        return self.exclude(image="")


class Photo(InShop):
    """A picture, re-encoded without the place and device that cameras write into files.

    Of one that was removed the row stays, with neither file nor words, so that a form sent again
    does not bring it back.
    """

    shop_path = "visit__shop_id"

    may_be_removed = False
    """Whether whoever looks at it may remove it, set where it is listed."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="photos")
    work_order = models.ForeignKey(
        WorkOrder, null=True, on_delete=models.PROTECT, related_name="photos"
    )
    cylinder = models.PositiveSmallIntegerField(null=True)
    image = models.FileField(upload_to=photo_path, max_length=200)
    caption = models.CharField(_("what it shows"), max_length=200, blank=True)
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    objects: ClassVar = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    @property
    def is_removed(self) -> bool:
        """Whether somebody removed it, with its file."""
        return not self.image
