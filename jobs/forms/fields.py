"""Fields that several forms of a job ask with."""

from typing import Any

from shopdiag.people.number_field import NumberField


class MeasuredField(NumberField):
    """A number with its unit beside it."""

    def __init__(self, *, unit: str = "", at_times_needed: bool = False, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(**kwargs)
        self.unit = unit
        self.at_times_needed = at_times_needed
        """Whether leaving it out is refused at times, so that it is not called optional."""
