"""What the customer said about the repair, once the diagnosis was done."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from jobs.models.evidence import Judgement
from jobs.models.intake import Complaint, Visit
from shopdiag.people.models import Member


class RepairConsent(models.Model):
    """A customer's yes or no to a repair, with who said it and how; a later one follows it."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="repair_consents")
    agreed = models.BooleanField(_("agreed to the repair"))
    said_by = models.CharField(_("who said it"), max_length=120)
    how = models.CharField(
        _("how"), max_length=10, choices=[c for c in Complaint.Consent.choices if c[0]]
    )
    amount = models.CharField(_("up to which amount"), max_length=60, blank=True)
    minutes = models.PositiveIntegerField(
        _("up to how many minutes"),
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(14_400)],
    )
    """Of work; nullable, so that SQLite does not rebuild the guarded table."""
    scope = models.CharField(_("for which repair"), max_length=400, blank=True)
    after_orders = models.PositiveSmallIntegerField(editable=False)
    """Work orders done when it was said: what is found later is another repair."""
    judgement = models.ForeignKey(
        Judgement, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )
    """The verdict that stood when it was said; a yes is one to its repair."""
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
