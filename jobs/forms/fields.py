"""Fields that several forms of a job ask with."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopdiag.people.number_field import NumberField


class MeasuredField(NumberField):
    """A number with its unit beside it."""

    def __init__(self, *, unit: str = "", at_times_needed: bool = False, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(**kwargs)
        self.unit = unit
        self.at_times_needed = at_times_needed
        """Whether leaving it out is refused at times, so that it is not called optional."""


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
