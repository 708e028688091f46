"""Captures of a visit and what the diagnostician made of them."""

from typing import Literal, TypeAlias

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext, pgettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from jobs.core.groups import GROUP_LABELS, FaultGroup
from jobs.core.request import signed_cylinders
from jobs.models.intake import Visit
from shopdiag.people.models import InShop, Member
from traces.core.signal_kinds import SignalKind
from traces.models import Capture, Run

Shows: TypeAlias = Literal["cranked", "running", "pressure"]
"""A cranked engine's compressions, an idling engine, or one cylinder's pressure."""


class VisitCapture(InShop):
    """Ties a capture to the visit it was made for."""

    shop_path = "visit__shop_id"

    class Purpose(models.TextChoices):
        DIAGNOSIS = "diagnosis", _("Diagnosis")
        VERIFICATION = "verification", _("After the repair")
        RUNNING = "running", _("Engine idling")
        RUNNING_AFTER = "run_after", _("Engine idling, after the repair")
        PRESSURE = "pressure", _("Pressure in one cylinder")
        PRESSURE_AFTER = "press_after", _("Pressure, after the repair")

    CRANKED = (Purpose.DIAGNOSIS, Purpose.VERIFICATION)
    """Those of a cranked engine; only these are pooled, signed and learnt from as compression."""
    IDLING = (Purpose.RUNNING, Purpose.RUNNING_AFTER)
    IN_CYLINDER = (Purpose.PRESSURE, Purpose.PRESSURE_AFTER)
    AFTER_REPAIR = (Purpose.VERIFICATION, Purpose.RUNNING_AFTER, Purpose.PRESSURE_AFTER)

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="visit_captures")
    capture = models.OneToOneField(Capture, on_delete=models.PROTECT, related_name="visit_capture")
    purpose = models.CharField(max_length=12, choices=Purpose.choices, default=Purpose.DIAGNOSIS)
    at = models.DateTimeField(default=timezone.now, editable=False)
    batch = models.UUIDField(null=True, editable=False)
    """Ties the files that were sent with one form, which mostly share a set-up."""
    aside_why = models.CharField(_("why it is set aside"), max_length=300, blank=True)
    """Set: not compared or pooled with the others. The timeline tells who did it and when."""

    class Meta:
        ordering = ["pk"]

    @property
    def is_aside(self) -> bool:
        """Whether somebody set the capture aside."""
        return bool(self.aside_why)

    @property
    def is_running(self) -> bool:
        """Whether the engine idles in it, as its newest set-up says."""
        return self.purpose in self.IDLING

    @property
    def is_pressure(self) -> bool:
        """Whether it is of one cylinder's pressure, as its newest set-up says."""
        return self.purpose in self.IN_CYLINDER

    @property
    def is_cranked(self) -> bool:
        """Whether it is of a cranked engine's compressions, one and all."""
        return self.purpose in self.CRANKED

    @property
    def shows(self) -> Shows:
        """What it shows, as its newest set-up says."""
        if self.is_pressure:
            return "pressure"
        return "running" if self.is_running else "cranked"

    @property
    def is_after_repair(self) -> bool:
        """Whether it was made after the repair."""
        return self.purpose in self.AFTER_REPAIR

    @classmethod
    def purpose_for(cls, shows: Shows, *, is_after: bool) -> str:
        """Return the purpose of a capture."""
        pairs = {"cranked": cls.CRANKED, "running": cls.IDLING, "pressure": cls.IN_CYLINDER}
        return pairs[shows][is_after]


def shown_by(kind: SignalKind) -> Shows:
    """Return what a capture set up for a signal shows."""
    if kind.shows_one_cylinder:
        return "pressure"
    return "cranked" if kind.shows_compressions else "running"


class Judgement(models.Model):
    """A person's signature under, or against, a run's verdict; never edited, only followed.

    Without a run it is a decision from triage alone.
    """

    class Kind(models.TextChoices):
        ACCEPTED = "accepted", pgettext_lazy("verdict", "Accepted")
        OVERRULED = "overruled", _("Overruled")
        WITHOUT_RUN = "without", _("Decided without a capture")

    class Mechanical(models.TextChoices):
        YES = "yes", _("Compression fault")
        NO = "no", _("No compression fault found")
        UNSURE = "unsure", _("Not settled")

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="judgements")
    run = models.ForeignKey(Run, null=True, on_delete=models.PROTECT, related_name="judgements")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    mechanical = models.CharField(max_length=6, choices=Mechanical.choices)
    fault_group = models.CharField(
        _("where the fault lies"),
        max_length=12,
        blank=True,
        choices=[(g.value, _(GROUP_LABELS[g])) for g in FaultGroup],
    )
    """Empty only in what was signed before groups were asked for."""
    cylinders = models.JSONField(default=list, blank=True)
    """Suspect cylinders by number, as signed."""
    reason = models.TextField(_("in your own words"), max_length=2000, blank=True)
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    """Makes a form that is sent twice one judgement."""
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind="accepted") | ~models.Q(reason=""),
                name="overruling_needs_a_reason",
            ),
        ]

    @property
    def group(self) -> FaultGroup:
        """Where the fault lies, as signed."""
        if self.fault_group:
            return FaultGroup(self.fault_group)
        is_compression = self.mechanical == self.Mechanical.YES
        return FaultGroup.COMPRESSION if is_compression else FaultGroup.UNSETTLED

    @property
    def group_label(self) -> str:
        """Where the fault lies, in words."""
        return gettext(GROUP_LABELS[self.group])

    @property
    def is_beyond_compression(self) -> bool:
        """Whether no compression fault was found, so that the fault is sought elsewhere."""
        return self.mechanical == self.Mechanical.NO

    @property
    def cylinder_words(self) -> str:
        """The suspect cylinders in words; 'or' where the capture leaves open which; '' for none."""
        if not self.cylinders:
            return ""
        report = self.run.report if self.run else None
        return signed_cylinders(self.cylinders, report.candidates if report else ())

    @property
    def cylinder_mark(self) -> str:
        """The word for a cylinder it names; one beyond compression was not found low."""
        return (
            pgettext("cylinder", "misfires") if self.is_beyond_compression else gettext("suspect")
        )
