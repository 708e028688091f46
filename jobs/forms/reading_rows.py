"""What a row of a table of readings asks for, and how it is drawn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.measured_tests import Scope, row_words
from jobs.forms.reading_columns import Column
from jobs.models import CylinderFinding

_Outcome = CylinderFinding.Outcome
_Test = CylinderFinding.Test
_OUTCOMES = [
    ("", "–"),
    (_Outcome.GOOD, _Outcome.GOOD.label),
    (_Outcome.BAD, _Outcome.BAD.label),
    (_Outcome.AMBIGUOUS, _Outcome.AMBIGUOUS.label),
    (_Outcome.NOT_DONE, _("Not measured")),
]


@dataclass(frozen=True, slots=True)
class Cell:
    """One figure of a row, with the column it stands in."""

    column: Column
    field: forms.BoundField


@dataclass(frozen=True, slots=True)
class Row:
    """The fields of one cylinder, one bank or the engine, as the page draws them.

    Parameters
    ----------
    number
        Of the cylinder or bank; 0 for the engine.
    head
        What it is, in words.
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

    number: int
    head: str
    is_named: bool
    figures: tuple[Cell, ...]
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
        cells = [cell.field for cell in self.figures]
        fields = (*cells, self.outcome, self.words, *filter(None, [self.heard_at]))
        return [str(error) for field in fields for error in field.errors]


def named(scope: Scope, number: int, name: str) -> str:
    """Return what a row's field is called in the form."""
    return f"{scope.value}_{number}_{name}"


def head_of(scope: Scope, number: int) -> str:
    """Return what a row is about, in words."""
    return row_words(scope, number or None)


def row_fields(
    scope: Scope, number: int, test: str, columns: Sequence[Column]
) -> dict[str, forms.Field]:
    """Return the fields of one row."""
    whose = head_of(scope, number)
    fields: dict[str, forms.Field] = {
        named(scope, number, column.name): column.field(whose) for column in columns
    }
    outcome = forms.ChoiceField(
        label=gettext("%(whose)s, outcome") % {"whose": whose},
        choices=_OUTCOMES,
        required=False,
    )
    outcome.widget.attrs["data-outcome"] = ""
    fields[named(scope, number, "outcome")] = outcome
    fields[named(scope, number, "words")] = forms.CharField(
        label=gettext("%(whose)s: what was found, or why it was not measured") % {"whose": whose},
        required=False,
        max_length=1000,
    )
    if test == _Test.LEAK_DOWN:
        fields[named(scope, number, "heard_at")] = forms.ChoiceField(
            label=gettext("%(whose)s: air escaping at") % {"whose": whose},
            choices=[("", _("nowhere")), *CylinderFinding.HeardAt.choices[1:]],
            required=False,
            widget=forms.RadioSelect,
        )
    return fields


def row_of(finding: CylinderFinding, columns: Sequence[Column]) -> Mapping[str, Any]:
    """Return a finding as its row shows it, by the names of its fields."""
    shown: dict[str, Any] = {"outcome": finding.outcome, "words": finding.words}
    shown |= {column.name: column.shown(finding) for column in columns}
    if finding.test == _Test.LEAK_DOWN:
        shown["heard_at"] = finding.heard_at
    return shown
