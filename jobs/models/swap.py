"""A swap test: a part moves to another cylinder, and the misfire follows it or stays."""

from django.db import models
from django.utils import timezone

from jobs.core.groups import swap_reading
from jobs.models.work import WorkOrder
from shopdiag.people.models import Member


class SwapTest(models.Model):
    """One part moved from one cylinder to another; never edited, a later one follows it."""

    class Part(models.TextChoices):
        COIL = "coil", "Coil"
        PLUG = "plug", "Plug"
        INJECTOR = "injector", "Injector"

    class Followed(models.TextChoices):
        YES = "yes", "Yes, it followed the part"
        NO = "no", "No, it stayed on its cylinder"
        CHANGED = "changed", "It changed"

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="swaps")
    part = models.CharField("part", max_length=8, choices=Part.choices)
    from_cylinder = models.PositiveSmallIntegerField("from cylinder")
    to_cylinder = models.PositiveSmallIntegerField("to cylinder")
    followed = models.CharField("did the misfire follow", max_length=7, choices=Followed.choices)
    counts_before = models.JSONField(default=dict, blank=True)
    """Misfires by cylinder number before the swap; empty where none were counted."""
    counts_after = models.JSONField(default=dict, blank=True)
    """Misfires by cylinder number after it."""
    words = models.CharField("what else was seen", max_length=400, blank=True)
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
        return (
            f"{self.get_part_display()} moved from cylinder {self.from_cylinder} to cylinder "
            f"{self.to_cylinder}. {self.reading}"
        )

    @property
    def reading(self) -> str:
        """What it says about the part."""
        return swap_reading(self.get_part_display().lower(), self.followed)
