"""Fields that several forms of a job ask with."""

import re
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.core.amounts import amount_read
from shopdiag.people.number_field import NumberField


class MeasuredField(NumberField):
    """A number with its unit beside it."""

    def __init__(self, *, unit: str = "", at_times_needed: bool = False, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(**kwargs)
        self.unit = unit
        self.at_times_needed = at_times_needed
        """Whether leaving it out is refused at times, so that it is not called optional."""


class AmountField(MeasuredField):
    """An amount in the shop's currency, read as every other amount is."""

    def to_python(self, value: Any) -> Any:  # noqa: ANN401 - as Django's own field has it
        """Read `1.900,00` and `1,900.00` alike; a sum has two decimals at most.

        Raises
        ------
        ValidationError
            If it is no number, or several.
        """
        if isinstance(value, str) and (read := amount_read(value)) is not None:
            return read
        if isinstance(value, str) and re.fullmatch(r"\s*\d.*", value):
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        return super().to_python(value)


def conditions_field() -> forms.CharField:
    """Return the field for how a test was done, of one finding and of a table of readings."""
    return forms.CharField(
        label=_("How it was done"),
        required=False,
        max_length=200,
        help_text=_(
            "Strokes, throttle, warm or cold; for a leak-down the tester, oil filler cap "
            "off, crankcase breather closed off, coolant full."
        ),
    )
