"""What was found before any capture: by ear, by codes, by counts."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from engines.core.mounting import DIRECTION_WORDS, SIDE_WORDS, Direction, Mounting, Side
from jobs.core.distance import to_km
from jobs.models.intake import Visit
from shopdiag.people.models import Member, Versioned


class Triage(Versioned):
    """The first look and the first listen; an empty field was not asked or not looked at."""

    class YesNo(models.TextChoices):
        UNASKED = "", _("Not asked")
        YES = "yes", _("Yes")
        NO = "no", _("No")

    class OilLevel(models.TextChoices):
        UNSEEN = "", _("Not checked")
        OK = "ok", pgettext_lazy("fluid level", "OK")
        LOW = "low", pgettext_lazy("fluid level", "Low")
        HIGH = "high", pgettext_lazy("fluid level", "High")

    class CoolantLevel(models.TextChoices):
        UNSEEN = "", _("Not checked")
        OK = "ok", pgettext_lazy("fluid level", "OK")
        LOW = "low", pgettext_lazy("fluid level", "Low")

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
    oil_level = models.CharField(_("oil level"), max_length=4, blank=True, choices=OilLevel.choices)
    oil_loss = models.CharField(
        _("oil used or lost"), max_length=3, blank=True, choices=YesNo.choices
    )
    coolant_level = models.CharField(
        _("coolant level"), max_length=3, blank=True, choices=CoolantLevel.choices
    )
    coolant_loss = models.CharField(
        _("coolant lost"), max_length=3, blank=True, choices=YesNo.choices
    )
    fuel_in_oil = models.CharField(
        _("oil smells of fuel"), max_length=3, blank=True, choices=YesNo.choices
    )
    timing_work = models.CharField(_("last timing job"), max_length=200, blank=True)
    timing_work_odometer = models.PositiveIntegerField(
        _("odometer at the timing job"), null=True, blank=True
    )
    """In the shop's distance unit, as every odometer reading."""
    timing_work_on = models.DateField(_("date of the timing job"), null=True, blank=True)
    fuel_work = models.CharField(_("last fuel system job"), max_length=200, blank=True)
    fuel_work_odometer = models.PositiveIntegerField(
        _("odometer at the fuel system job"), null=True, blank=True
    )
    """In the shop's distance unit."""
    fuel_work_on = models.DateField(_("date of the fuel system job"), null=True, blank=True)
    plugs_age = models.PositiveIntegerField(_("distance on the plugs"), null=True, blank=True)
    """In the shop's distance unit."""
    direction = models.CharField(
        _("how the engine sits"),
        max_length=5,
        blank=True,
        choices=[(d.value, _(DIRECTION_WORDS[d])) for d in Direction],
    )
    bank_a_side = models.CharField(
        _("bank A (bank 1) lies on the"),
        max_length=8,
        blank=True,
        choices=[(s.value, _(SIDE_WORDS[s])) for s in Side],
    )
    remarks = models.TextField(_("remarks"), max_length=2000, blank=True)

    @property
    def plugs_age_km(self) -> int | None:
        """How far the plugs have run, in kilometres; None where nobody knows."""
        if self.plugs_age is None:
            return None
        return to_km(self.plugs_age, self.visit.shop.distance_unit)

    @property
    def mounting(self) -> Mounting | None:
        """How the engine sits in the vehicle; None where it was not said."""
        if not self.direction:
            return None
        side = Side(self.bank_a_side) if self.bank_a_side else None
        return Mounting(Direction(self.direction), side)


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
