"""A person's word for how the cylinders of this very vehicle are numbered."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from engines.core.mounting import DIRECTION_WORDS, SIDE_WORDS, Direction, Mounting, Side
from jobs.models.intake import Visit
from shopdiag.people.models import Member


class NumberingCheck(models.Model):
    """Somebody looked at the vehicle and confirms its cylinder numbers; never edited."""

    class Basis(models.TextChoices):
        CASTING = "casting", _("Casting or plate on the engine")
        DATA = "data", _("Manufacturer's data for this vehicle")
        PLUG_LEAD = "plug_lead", _("Number on the plug leads")
        COIL = "coil", _("Number on the coil connectors")

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="numbering_checks")
    basis = models.CharField(_("confirmed from"), max_length=10, choices=Basis.choices)
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
    note = models.CharField(_("note"), max_length=200, blank=True)
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    """Makes a form that is sent twice one confirmation."""
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    @property
    def mounting(self) -> Mounting | None:
        """How the engine sits in the vehicle; None where it was not said."""
        if not self.direction:
            return None
        side = Side(self.bank_a_side) if self.bank_a_side else None
        return Mounting(Direction(self.direction), side)
