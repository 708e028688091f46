"""What a mechanic asks whoever ordered the work, and what comes back."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from jobs.models.work import WorkOrder
from shopdiag.people.models import InShop, Member


class Question(InShop):
    """A question on a work order, or that the work was stopped; open until it is answered."""

    shop_path = "work_order__shop_id"

    work_order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="questions")
    text = models.TextField(_("question"), max_length=1000)
    is_stop = models.BooleanField(default=False)
    """Whether the mechanic stopped and waits for a call."""
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    form_token = models.UUIDField(null=True, unique=True, editable=False)
    answer = models.TextField(_("answer"), max_length=1000, blank=True)
    answered_at = models.DateTimeField(null=True, editable=False)
    answered_by = models.ForeignKey(
        Member, null=True, on_delete=models.PROTECT, related_name="+", editable=False
    )

    class Meta:
        ordering = ["pk"]
