"""The form for how a visit ended."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.models import Outcome
from jobs.services.outcome import outcome_fields
from shopdiag.people.asking_back import AsksBack
from shopdiag.people.models import Member
from shopdiag.people.versioned import VersionedForm


class OutcomeForm(AsksBack, VersionedForm):
    """Cause, correction and proof; who may not verify writes only the customer's version."""

    class Meta:
        model = Outcome
        fields = [
            "cause",
            "correction",
            "verified",
            "verified_how",
            "drive",
            "misfires_before",
            "misfires_after",
            "told_customer",
        ]
        widgets = {
            "cause": forms.Textarea(attrs={"rows": 3}),
            "correction": forms.Textarea(attrs={"rows": 3}),
            "verified": forms.RadioSelect,
            "verified_how": forms.Textarea(attrs={"rows": 2}),
            "told_customer": forms.Textarea(attrs={"rows": 4}),
        }
        help_texts = {
            "cause": _("What failed and why, with the readings."),
            "correction": _("What was done, or that the customer wanted nothing done."),
            "verified_how": _("Second capture, gauge, road test under the complaint's conditions."),
            "drive": _("Only if misfires were counted. Like: 15 minutes, town and uphill, warm."),
            "misfires_after": _("Over the same drive as before."),
            "told_customer": _("No trade words: what was wrong, what was done, what is not known."),
        }

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self._member = member
        allowed = outcome_fields(member)
        for name in self.record_fields:
            if name not in allowed:
                del self.fields[name]

    def again(self, data: Any, current: Any) -> "OutcomeForm":  # noqa: ANN401
        return type(self)(data, instance=current, prefix=self.prefix, member=self._member)
