"""Which tests are recorded as a table, and the columns of each."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.measured_tests import Figure, Kind, TypedTest, checked_values, unit_of
from jobs.core.pressure import MOST_KPA, from_kpa, to_kpa
from jobs.core.proposed_outcomes import MOST_LEAK_PERCENT
from jobs.forms.fields import MeasuredField
from jobs.forms.finding_figures import PRESSURES, figure_of
from jobs.forms.typed_fields import figure_field, kept_as_shown, kept_value, shown_in_field
from jobs.models import CylinderFinding
from shopdiag.people.core.numerals import plain_figure, written

_Test = CylinderFinding.Test
ROW_FIGURES = {
    _Test.GAUGE_DRY: ("first_puff", "pressure"),
    _Test.GAUGE_WET: ("first_puff", "pressure"),
    _Test.LEAK_DOWN: ("leak_percent",),
    _Test.RUNNING: ("idle", "snap"),
}
"""Tests of compression that are recorded as a table, with the figures of each row; the main one is
last."""
FOR_ALL = {
    _Test.GAUGE_WET: ("oil_ml", "swept_ml"),
    _Test.LEAK_DOWN: ("supply", "orifice_mm", "at_tdc", "is_warm"),
    _Test.REPEAT: ("is_warm",),
}
"""What is said once for every row."""
HEADS = {
    "first_puff": _("First puff"),
    "pressure": _("Last puff"),
    "leak_percent": _("Leakage"),
    "idle": _("At idle"),
    "snap": _("On a snap"),
}


@dataclass(frozen=True, slots=True)
class Column:
    """One figure of a table's rows.

    Parameters
    ----------
    name, head
        What its field is called, and what stands above it.
    unit
        Behind each figure; empty for a choice.
    figure
        Of a test beyond compression; None for one that has a column in the database.
    shop_unit
        The shop's unit of pressure.
    """

    name: str
    head: str
    unit: str
    shop_unit: str
    figure: Figure | None = None

    @property
    def is_choice(self) -> bool:
        """Whether it is chosen and not measured."""
        return self.figure is not None and self.figure.kind is Kind.CHOICE

    def field(self, whose: str) -> forms.Field:
        """Return the field of one row."""
        label = gettext("%(whose)s, %(figure)s") % {"whose": whose, "figure": self.head.lower()}
        if self.figure is not None:
            field = figure_field(self.figure, self.shop_unit, label)
        else:
            field = MeasuredField(
                label=label,
                required=False,
                min_value=0,
                max_value=MOST_LEAK_PERCENT if self.name == "leak_percent" else None,
                unit=self.unit,
            )
        field.widget.attrs |= {"data-figure": self.name, "enterkeyhint": "next"}
        if not self.is_choice:
            field.widget.attrs["placeholder"] = " "
        return field

    def shown(self, finding: CylinderFinding) -> Any:  # noqa: ANN401 - a figure or a text
        """Return what a finding says in this column, as its field shows it."""
        if self.figure is not None:
            return shown_in_field(self.figure, finding.figures or {}, self.shop_unit)
        value = getattr(finding, figure_of(self.name))
        if value is not None and self.name in PRESSURES:
            value = round(from_kpa(value, self.shop_unit), 2)
        return int(value) if isinstance(value, float) and value.is_integer() else value

    def kept(self, value: Any, before: CylinderFinding | None = None) -> Any:  # noqa: ANN401
        """Return what was typed as it is kept; what a page only showed stays to the last digit."""
        if self.figure is not None:
            if before is not None:
                return kept_as_shown(self.figure, value, before.figures or {}, self.shop_unit)
            return kept_value(self.figure, value, self.shop_unit)
        is_pressure = value is not None and self.name in PRESSURES
        return to_kpa(value, self.shop_unit) if is_pressure else value

    def refusal(self, value: Any, fuel: str) -> str:  # noqa: ANN401 - a figure or a text
        """Return why what was typed cannot be; empty where it can."""
        if self.figure is not None:
            sent = {self.name: self.kept(value)}
            refused = checked_values((self.figure,), sent, fuel=fuel, unit=self.shop_unit)[1]
            return refused.get(self.name, "")
        is_pressure = value is not None and self.name in PRESSURES
        if not is_pressure or to_kpa(value, self.shop_unit) <= MOST_KPA:
            return ""
        return gettext(
            "%(value)s %(unit)s is more than a gauge shows (%(most).0f %(unit)s); "
            "check the figure and the unit."
        ) % {
            "value": written(plain_figure(value)),
            "unit": self.shop_unit,
            "most": from_kpa(MOST_KPA, self.shop_unit),
        }


def columns_of(test: str, unit: str, entry: TypedTest | None) -> tuple[Column, ...]:
    """Return the columns of a test's table.

    Parameters
    ----------
    unit
        The shop's unit of pressure.
    entry
        The test's typed figures; None for a test of compression.
    """
    if entry is not None:
        return tuple(
            Column(f.name, gettext(f.head), unit_of(f, unit), unit, f) for f in entry.typed
        )
    return tuple(
        Column(name, str(HEADS[name]), "%" if name == "leak_percent" else unit, unit)
        for name in ROW_FIGURES[_Test(test)]
    )


def figures_kept(
    columns: tuple[Column, ...], values: Mapping[str, Any], before: CylinderFinding | None
) -> dict[str, Any]:
    """Return a row's typed figures as they are kept."""
    return {c.name: c.kept(values.get(c.name), before) for c in columns if c.figure is not None}
