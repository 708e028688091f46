"""The form for time and parts used."""

from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.forms.fields import AmountField
from jobs.services.used import WasUsed
from shopdiag.people.asking_back import AsksBack


class UsedForm(AsksBack, forms.Form):
    """Minutes worked, or an amount for parts and other costs."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    work_order = forms.IntegerField(widget=forms.HiddenInput, required=False)
    minutes = forms.IntegerField(
        label=_("Minutes worked"), required=False, min_value=1, max_value=1440
    )
    amount = AmountField(
        label=_("Parts and other costs"),
        required=False,
        min_value=0,
        max_value=99_999_999,
    )
    what = forms.CharField(label=_("What for"), max_length=200, required=False)

    def __init__(
        self,
        data: Any = None,  # noqa: ANN401 - Django's
        *,
        currency: str,
        order_id: int | None = None,
    ) -> None:
        super().__init__(data, initial={"work_order": order_id}, auto_id="id_used_%s")
        self.fields["amount"].unit = currency  # type: ignore[attr-defined]

    @property
    def used(self) -> WasUsed:
        """What was typed, as the service takes it."""
        data = self.cleaned_data
        return WasUsed(
            minutes=data["minutes"] or 0,
            amount=Decimal(str(data["amount"] or 0)).quantize(Decimal("0.01")),
            what=data["what"],
            confirmed=data.get("confirmed", False),
        )
