"""Which tests are recorded as a table, what a row asks for, and how it is drawn."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.pressure import from_kpa
from jobs.forms.fields import MeasuredField
from jobs.forms.finding_figures import PRESSURES, figure_of
from jobs.models import CylinderFinding

_Outcome = CylinderFinding.Outcome
_Test = CylinderFinding.Test
ROW_FIGURES = {
    _Test.GAUGE_DRY: ("first_puff", "pressure"),
    _Test.GAUGE_WET: ("first_puff", "pressure"),
    _Test.LEAK_DOWN: ("leak_percent",),
    _Test.RUNNING: ("idle", "snap"),
}
"""Tests that are recorded as a table, with the figures of each row; the main one is last."""
FOR_ALL = {
    _Test.GAUGE_WET: ("oil_ml", "swept_ml"),
    _Test.LEAK_DOWN: ("supply", "orifice_mm", "at_tdc", "is_warm"),
}
"""What is said once for every row."""
HEADS = {
    "first_puff": _("First puff"),
    "pressure": _("Last puff"),
    "leak_percent": _("Leakage"),
    "idle": _("At idle"),
    "snap": _("On a snap"),
}
_OUTCOMES = [
    ("", "–"),
    (_Outcome.GOOD, _Outcome.GOOD.label),
    (_Outcome.BAD, _Outcome.BAD.label),
    (_Outcome.AMBIGUOUS, _Outcome.AMBIGUOUS.label),
    (_Outcome.NOT_DONE, _("Not measured")),
]


@dataclass(frozen=True, slots=True)
class Row:
    """One cylinder's fields, as the page draws them.

    Parameters
    ----------
    cylinder
        Its number.
    is_named
        Whether the verdict names it.
    is_missing_limit
        Whether its reading misses the job's limits.
    is_proposed
        Whether its outcome is a proposal that nobody has seen yet.
    is_rest
        Whether it is empty and of a cylinder that the test is not asked for.
    is_recorded
        Whether it shows what stands.
    """

    cylinder: int
    is_named: bool
    figures: tuple[forms.BoundField, ...]
    outcome: forms.BoundField
    words: forms.BoundField
    heard_at: forms.BoundField | None
    is_missing_limit: bool
    is_proposed: bool
    is_rest: bool
    is_recorded: bool

    @property
    def errors(self) -> list[str]:
        """What is wrong in this row, in sentences."""
        fields = (*self.figures, self.outcome, self.words, *filter(None, [self.heard_at]))
        return [str(error) for field in fields for error in field.errors]


def named(cylinder: int, name: str) -> str:
    """Return what a cylinder's field is called in the form."""
    return f"cylinder_{cylinder}_{name}"


def row_fields(cylinder: int, test: str, unit: str) -> dict[str, forms.Field]:
    """Return the fields of one cylinder's row, pressures in `unit`."""
    fields: dict[str, forms.Field] = {}
    for name in ROW_FIGURES[_Test(test)]:
        field = MeasuredField(
            label=gettext("Cylinder %(cylinder)s, %(figure)s")
            % {"cylinder": cylinder, "figure": str(HEADS[name]).lower()},
            required=False,
            min_value=0,
            max_value=100 if name == "leak_percent" else None,
            unit="%" if name == "leak_percent" else unit,
        )
        field.widget.attrs |= {"data-figure": name, "enterkeyhint": "next", "placeholder": " "}
        fields[named(cylinder, name)] = field
    outcome = forms.ChoiceField(
        label=gettext("Cylinder %(cylinder)s, outcome") % {"cylinder": cylinder},
        choices=_OUTCOMES,
        required=False,
    )
    outcome.widget.attrs["data-outcome"] = ""
    fields[named(cylinder, "outcome")] = outcome
    fields[named(cylinder, "words")] = forms.CharField(
        label=gettext("Cylinder %(cylinder)s: what was found, or why it was not measured")
        % {"cylinder": cylinder},
        required=False,
        max_length=1000,
    )
    if test == _Test.LEAK_DOWN:
        fields[named(cylinder, "heard_at")] = forms.ChoiceField(
            label=gettext("Cylinder %(cylinder)s: air escaping at") % {"cylinder": cylinder},
            choices=[("", _("nowhere")), *CylinderFinding.HeardAt.choices[1:]],
            required=False,
            widget=forms.RadioSelect,
        )
    return fields


def row_of(finding: CylinderFinding, unit: str) -> Mapping[str, Any]:
    """Return a finding as its row shows it, by the names of its fields."""
    shown: dict[str, Any] = {"outcome": finding.outcome, "words": finding.words}
    for name in ROW_FIGURES[_Test(finding.test)]:
        value = getattr(finding, figure_of(name))
        if value is not None and name in PRESSURES:
            value = round(from_kpa(value, unit), 2)
        shown[name] = int(value) if isinstance(value, float) and value.is_integer() else value
    if finding.test == _Test.LEAK_DOWN:
        shown["heard_at"] = finding.heard_at
    return shown
