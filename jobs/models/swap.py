"""A swap test: a part moves to another cylinder, and the misfire follows it or stays."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.groups import swap_reading
from jobs.models.work import WorkOrder
from shopdiag.people.models import Member


class SwapTest(models.Model):
    """One part moved from one cylinder to another; never edited, a later one follows it."""

    class Part(models.TextChoices):
        COIL = "coil", _("Coil")
        PLUG = "plug", _("Plug")
        INJECTOR = "injector", _("Injector")

    class Followed(models.TextChoices):
        YES = "yes", _("Yes, it followed the part")
        NO = "no", _("No, it stayed on its cylinder")
        CHANGED = "changed", _("It changed")

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="swaps")
    part = models.CharField(_("part"), max_length=8, choices=Part.choices)
    from_cylinder = models.PositiveSmallIntegerField(_("from cylinder"))
    to_cylinder = models.PositiveSmallIntegerField(_("to cylinder"))
    followed = models.CharField(_("did the misfire follow"), max_length=7, choices=Followed.choices)
    counts_before = models.JSONField(default=dict, blank=True)
    """Misfires by cylinder number before the swap; empty where none were counted."""
    counts_after = models.JSONField(default=dict, blank=True)
    """Misfires by cylinder number after it."""
    words = models.CharField(_("what else was seen"), max_length=400, blank=True)
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(from_cylinder=models.F("to_cylinder")),
                name="swap_between_two_cylinders",
            ),
        ]

    @property
    def line(self) -> str:
        """The test in one line, as an order's summary and the job card tell it."""
        return gettext(
            "%(part)s moved from cylinder %(from_cylinder)s to cylinder "
            "%(to_cylinder)s. %(reading)s"
        ) % {
            "part": self.get_part_display(),
            "from_cylinder": self.from_cylinder,
            "to_cylinder": self.to_cylinder,
            "reading": self.reading,
        }

    @property
    def reading(self) -> str:
        """What it says about the part."""
        return swap_reading(self.get_part_display().lower(), self.followed)
