"""Cases that instructors set, and the exercises that people mark."""

from typing import ClassVar, Self
from uuid import uuid4

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext

from shopdiag.people.models import Member, ShopOwned, ShopQuerySet
from traces.models import Work
from traces.practice.core.levels import ENGINES, FAULT_LABELS, Fault, Level, level_of


class SetCase(ShopOwned):
    """A case that an instructor sets for somebody or for everybody in the shop."""

    level = models.PositiveSmallIntegerField()
    engine = models.CharField(max_length=8, blank=True)
    """Empty: drawn from the level's."""
    fault = models.CharField(max_length=20, blank=True)
    """Empty: drawn from the level's. Never shown to whoever it is set for."""
    set_for = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    """None: for everybody."""
    form_token = models.UUIDField(null=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    created_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-pk"]

    @property
    def of_level(self) -> Level:
        """The level it is drawn from."""
        return level_of(self.level)

    @property
    def engine_words(self) -> str:
        """The engine, in words."""
        return gettext(ENGINES[self.engine]) if self.engine else gettext("drawn")

    @property
    def fault_words(self) -> str:
        """What is hidden, for instructors."""
        return gettext(FAULT_LABELS[Fault(self.fault)]) if self.fault else gettext("drawn")


class ExerciseQuerySet(ShopQuerySet["Exercise"]):
    """Exercises."""

    def of(self, member: Member) -> Self:
        """Return the member's own."""
        return self.seen_by(member).filter(member=member)

    def answered(self) -> Self:
        """Return those that were answered, oldest first."""
        return self.exclude(answered_at=None).order_by("answered_at", "pk")


class Exercise(ShopOwned, Work):
    """One simulated capture that one person marks; the worker draws and analyses it.

    What is hidden stands in `seed`, `truth` and `result`; pages ask for those only after
    the answer.
    """

    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    set_case = models.ForeignKey(SetCase, null=True, on_delete=models.PROTECT, related_name="+")
    level = models.PositiveSmallIntegerField()
    seed = models.BigIntegerField(editable=False)
    shown = models.JSONField(default=dict, editable=False)
    """What a person is told: engine, firing order, banks, sync."""
    curve = models.JSONField(null=True, editable=False)
    truth = models.JSONField(null=True, editable=False)
    result = models.JSONField(null=True, editable=False)
    """The analysis' report."""
    answer = models.JSONField(null=True, editable=False)
    points = models.PositiveSmallIntegerField(null=True, editable=False)
    most_points = models.PositiveSmallIntegerField(null=True, editable=False)
    form_token = models.UUIDField(default=uuid4, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    answered_at = models.DateTimeField(null=True, editable=False)

    objects: ClassVar = ExerciseQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(fields=["member", "form_token"], name="exercise_once"),
        ]

    @property
    def of_level(self) -> Level:
        """The level it is drawn from."""
        return level_of(self.level)

    @property
    def is_answered(self) -> bool:
        """Whether it was marked, so that the truth may be shown."""
        return self.answered_at is not None

    @property
    def is_right(self) -> bool:
        """Whether everything was right."""
        return self.is_answered and self.points == self.most_points
