"""Time and parts used on a job: lines that are added, and taken back by a counter line."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from jobs.models.intake import Visit
from jobs.models.work import WorkOrder
from shopdiag.people.models import InShop, Member


class UsedLine(InShop):
    """Minutes worked, or parts and other costs; a mistake is taken back by a line of its own."""

    shop_path = "visit__shop_id"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="used_lines")
    work_order = models.ForeignKey(
        WorkOrder,
        null=True,
        on_delete=models.PROTECT,
        related_name="used_lines",
        editable=False,
    )
    is_repair = models.BooleanField(default=False)
    """Whether it counts against what was agreed for the repair, else for the diagnosis."""
    minutes = models.PositiveIntegerField(
        _("minutes"), default=0, validators=[MaxValueValidator(1440)]
    )
    amount = models.DecimalField(
        _("amount"),
        max_digits=10,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(0)],
    )
    """Of parts and other costs, in the shop's currency."""
    hourly_rate = models.DecimalField(max_digits=8, decimal_places=2, null=True, editable=False)
    """The shop's when it was booked: a rate that changes later changes no job's figures."""
    what = models.CharField(_("what for"), max_length=200, blank=True)
    takes_back = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="taken_back_by", editable=False
    )
    """The line that this one takes back; neither counts then."""
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
