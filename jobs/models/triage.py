"""What was found before any capture: by ear, by codes, by counts."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from jobs.models.intake import Visit
from shopdiag.people.models import Member, Versioned


class Triage(Versioned):
    """The first look and the first listen."""

    class Verified(models.TextChoices):
        UNTRIED = "", _("Not tried")
        YES = "yes", _("Yes, seen")
        NO = "no", _("Could not duplicate")

    class Cranks(models.TextChoices):
        UNHEARD = "", _("Not checked")
        EVEN = "even", _("Even")
        UNEVEN = "uneven", _("Uneven")
        SLOW = "slow", _("Slow")
        FAST = "fast", _("Fast")
        NO_CRANK = "no_crank", _("Does not crank")

    visit = models.OneToOneField(Visit, on_delete=models.CASCADE, related_name="triage")
    verified = models.CharField(
        _("complaint confirmed"), max_length=4, blank=True, choices=Verified.choices
    )
    cranks = models.CharField(_("cranking sound"), max_length=8, blank=True, choices=Cranks.choices)
    battery_v = models.FloatField(_("battery at rest (V)"), null=True, blank=True)
    remarks = models.TextField(_("remarks"), max_length=2000, blank=True)


class CodePaste(models.Model):
    """Text as it was pasted; kept whole, so that nothing is swallowed."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="code_pastes")
    text = models.TextField(max_length=20_000)
    not_codes = models.JSONField(default=list, editable=False)
    """What looked like a code but is none: [{"text", "line", "why"}]."""
    form_token = models.UUIDField(null=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]


class TroubleCode(models.Model):
    """One code in one status; the same code may be both stored and pending."""

    class Status(models.TextChoices):
        STORED = "stored", _("Stored")
        PENDING = "pending", _("Pending")
        PERMANENT = "permanent", _("Permanent")
        UNKNOWN = "", _("Status not given")

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="codes")
    paste = models.ForeignKey(CodePaste, null=True, on_delete=models.CASCADE, related_name="codes")
    code = models.CharField(max_length=10, db_index=True)
    status = models.CharField(max_length=10, blank=True, choices=Status.choices)
    cylinder = models.PositiveSmallIntegerField(null=True)
    line = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["code", "status"]
        constraints = [
            models.UniqueConstraint(
                fields=["visit", "code", "status"], name="code_once_per_visit_and_status"
            ),
        ]

    def __str__(self) -> str:
        return self.code


class FreezeFrame(models.Model):
    """Operating values that the vehicle kept with a code."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="freeze_frames")
    code = models.CharField(_("for code"), max_length=10, blank=True)
    rows = models.JSONField()
    """[{"name", "value", "unit"}] as read."""
    form_token = models.UUIDField(null=True, editable=False)
    replaces = models.OneToOneField(
        "self",
        null=True,
        on_delete=models.PROTECT,
        related_name="replaced_by",
        editable=False,
    )
    """The reading that this one corrects; it stays on record."""
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]


class MisfireCounts(models.Model):
    """Misfires counted per cylinder; counts compare between cylinders only."""

    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="misfire_counts")
    counts = models.JSONField()
    """{"1": 0, "2": 143, ...} by cylinder number."""
    period = models.CharField(_("counted over"), max_length=80, blank=True)
    form_token = models.UUIDField(null=True, editable=False)
    replaces = models.OneToOneField(
        "self",
        null=True,
        on_delete=models.PROTECT,
        related_name="replaced_by",
        editable=False,
    )
    """The reading that this one corrects; it stays on record."""
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
