"""Fields that several forms of a job ask with."""

from typing import Any

from django import forms


class MeasuredField(forms.FloatField):
    """A number with its unit beside it."""

    widget = forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})

    def __init__(self, *, unit: str = "", at_times_needed: bool = False, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(**kwargs)
        self.unit = unit
        self.at_times_needed = at_times_needed
        """Whether leaving it out is refused at times, so that it is not called optional."""
