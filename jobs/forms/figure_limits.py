"""The form for limits of a test's figures, in the units of the shop."""

from collections.abc import Mapping
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.measured_tests import (
    Figure,
    Limit,
    Origin,
    TypedTest,
    plain_number,
    to_kept,
    unit_of,
)
from jobs.forms.fields import MeasuredField
from jobs.models import FigureLimit
from jobs.selectors.figure_limits import lines_in
from jobs.selectors.limit_place import LimitPlace
from jobs.services.figure_limits import LONGEST_SOURCE, check_seen

_PARTS = {"least": _("At least"), "most": _("At most"), "apart": _("At most from the mean")}


class FigureLimitsForm(forms.Form):
    """Least, most and distance from the mean of each figure of a test, in one scope."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    """The newest line of each figure that the page showed, as `rest_kpa:15,load_kpa:16`."""
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
        place: LimitPlace,
        entry: TypedTest,
        scope: Origin,
    ) -> None:
        super().__init__(data)
        self.fields["source"].at_times_needed = True  # type: ignore[attr-defined]
        self._unit, self._entry = place.shop.pressure_unit, entry
        self._place, self._lines = place, lines_in(place, entry.test, scope)
        for figure in entry.limited:
            for part, label in self._parts(figure).items():
                field = MeasuredField(
                    label=label,
                    required=False,
                    unit=unit_of(figure, self._unit),
                    at_times_needed=True,
                )
                self.fields[f"{figure.name}_{part}"] = field
                if (line := self._lines.get(figure.name)) is not None:
                    self.initial[f"{figure.name}_{part}"] = self._shown(figure, line, part)
        sources = {line.source for line in self._lines.values() if line.limit is not None}
        # of several sources none goes with all figures
        self.initial["source"] = sources.pop() if len(sources) == 1 else ""
        self.initial["seen"] = self._seen_now()

    def _parts(self, figure: Figure) -> dict[str, str]:
        return {
            part: str(words)
            for part, words in _PARTS.items()
            if part != "apart" or self._entry.compares(figure)
        }

    def _shown(self, figure: Figure, line: FigureLimit | None, part: str) -> float | None:
        value = getattr(line, part, None)
        return None if value is None else float(plain_number(figure, value, self._unit))

    @property
    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields by figure, as the page draws them."""
        return [
            (gettext(figure.label), [self[f"{figure.name}_{part}"] for part in self._parts(figure)])
            for figure in self._entry.limited
        ]

    def _seen_now(self) -> str:
        return ",".join(f"{figure}:{line.pk}" for figure, line in sorted(self._lines.items()))

    @property
    def lines_seen(self) -> dict[str, int]:
        """The newest line of each figure that the page showed."""
        pairs = [pair.split(":") for pair in self.cleaned_data.get("seen", "").split(",")]
        return {p[0]: int(p[1]) for p in pairs if len(p) == 2 and _is_key(p[1])}

    def clean(self) -> dict[str, Any]:
        """Refuse figures that somebody else set meanwhile; the next save puts them in place."""
        super().clean()
        try:
            check_seen(self._place, self._moved(), self._lines, self.lines_seen)
        except forms.ValidationError as error:
            self._show_what_stands()
            self.add_error(None, error)
        return self.cleaned_data

    def _showed(self) -> dict[str, FigureLimit]:
        """Return the lines that the page showed, by figure."""
        of_shop = FigureLimit.objects.filter(shop=self._place.shop)
        lines = of_shop.filter(test=self._entry.test, pk__in=self.lines_seen.values())
        return {line.figure: line for line in lines}

    def _changed(self) -> list[str]:
        """Return the figures that were typed otherwise than the page showed them."""
        return self._typed_otherwise(self._showed())

    def _moved(self) -> list[str]:
        """Return those of them that also differ from what stands now."""
        differ = self._typed_otherwise(self._lines)
        return [figure for figure in self._changed() if figure in differ]

    def _typed_otherwise(self, lines: Mapping[str, FigureLimit]) -> list[str]:
        return [
            figure.name
            for figure in self._entry.limited
            if any(
                self.cleaned_data.get(name) != self._shown(figure, lines.get(figure.name), part)
                for part in self._parts(figure)
                if (name := f"{figure.name}_{part}") not in self.errors
            )
        ]

    def _show_what_stands(self) -> None:
        """Let the page that comes back know what was set meanwhile."""
        data, changed = cast("Any", self.data).copy(), set(self._changed())
        for figure in self._entry.limited:
            if figure.name not in changed:
                for part in self._parts(figure):
                    name = f"{figure.name}_{part}"
                    if name not in self.errors:
                        value = self._shown(figure, self._lines.get(figure.name), part)
                        data[name] = "" if value is None else value
        data["seen"] = self._seen_now()
        self.data = data

    @property
    def limits(self) -> dict[str, Limit]:
        """The limits typed otherwise than shown; where none was, all that the source is said for.

        A part that was left as shown stays to the last digit.
        """
        changed = self._changed() or [f for f, line in self._lines.items() if self._is_left(line)]
        return {
            figure.name: Limit(
                self._kept(figure, "least"), self._kept(figure, "most"), self._kept(figure, "apart")
            )
            for figure in self._entry.limited
            if figure.name in changed
        }

    def _is_left(self, line: FigureLimit) -> bool:
        """Return whether a line stands as the page showed it."""
        return line.limit is not None and self.lines_seen.get(line.figure) == line.pk

    def _kept(self, figure: Figure, part: str) -> float | None:
        typed = self.cleaned_data.get(f"{figure.name}_{part}")
        line = self._lines.get(figure.name)
        if typed is not None and line and typed == self._shown(figure, line, part):
            kept: float | None = getattr(line, part)
            return kept
        return None if typed is None else to_kept(figure, typed, self._unit)


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 19
