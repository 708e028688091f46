"""The form for limits of a test's figures, in the units of the shop."""

from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.test_figures import (
    Figure,
    Limit,
    Origin,
    TypedTest,
    plain_number,
    to_kept,
    unit_of,
)
from jobs.forms.fields import MeasuredField
from jobs.models import WorkOrder
from jobs.selectors.figure_limits import standing_in
from jobs.services.figure_limits import LONGEST_SOURCE

_PARTS = {"least": _("At least"), "most": _("At most"), "apart": _("At most from the mean")}


class FigureLimitsForm(forms.Form):
    """Least, most and distance from the mean of each figure of a test, in one scope."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    source = forms.CharField(
        label=_("Where the figures come from"),
        required=False,
        max_length=LONGEST_SOURCE,
        help_text=_("Manual and page, service text, or who set them."),
    )

    def __init__(
        self,
        data: Any = None,  # noqa: ANN401 - Django's signature
        *,
        order: WorkOrder,
        entry: TypedTest,
        scope: Origin,
    ) -> None:
        super().__init__(data)
        self.fields["source"].at_times_needed = True  # type: ignore[attr-defined]
        self._unit, self._entry = order.visit.shop.pressure_unit, entry
        self._stands = standing_in(order, entry.test, scope)
        for figure in entry.limited:
            for part, label in self._parts(figure).items():
                field = MeasuredField(
                    label=label,
                    required=False,
                    unit=unit_of(figure, self._unit),
                    at_times_needed=True,
                )
                self.fields[f"{figure.name}_{part}"] = field
                if (limit := self._stands.get(figure.name)) is not None:
                    self.initial[f"{figure.name}_{part}"] = self._shown(figure, limit, part)
        newest = next(iter(self._stands.values()), None)
        self.initial["source"] = newest.source if newest else ""

    def _parts(self, figure: Figure) -> dict[str, str]:
        return {
            part: str(words)
            for part, words in _PARTS.items()
            if part != "apart" or (figure.is_typed and self._entry.scope != "engine")
        }

    def _shown(self, figure: Figure, limit: Limit, part: str) -> float | None:
        value = getattr(limit, part)
        return None if value is None else float(plain_number(figure, value, self._unit))

    @property
    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields by figure, as the page draws them."""
        return [
            (gettext(figure.label), [self[f"{figure.name}_{part}"] for part in self._parts(figure)])
            for figure in self._entry.limited
        ]

    @property
    def limits(self) -> dict[str, Limit]:
        """The limits as typed, by figure; what was left as shown stays to the last digit."""
        return {
            figure.name: Limit(
                self._kept(figure, "least"), self._kept(figure, "most"), self._kept(figure, "apart")
            )
            for figure in self._entry.limited
        }

    def _kept(self, figure: Figure, part: str) -> float | None:
        typed = self.cleaned_data.get(f"{figure.name}_{part}")
        stands = self._stands.get(figure.name)
        if typed is not None and stands and typed == self._shown(figure, stands, part):
            kept: float | None = getattr(stands, part)
            return kept
        return None if typed is None else to_kept(figure, typed, self._unit)
