"""Checks of findings with typed figures: what is refused, and what contradicts its outcome."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from jobs.core.groups import ONLY_BEYOND
from jobs.core.measured_tests import BAD, GOOD, Row, Scope, Value, Values, checked_values, proposed
from jobs.core.tests_wanted import EITHER_WAY, WHOLE_ENGINE
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import fuel_of
from jobs.selectors.typed_findings import (
    row_of_finding,
    rows_of,
    sayings_about,
    typed_test_of,
)

MOST_BANKS = 2
"""Scan tools number two banks."""


class Typed(Protocol):
    """What was typed of a test: where it was done, and its figures by name."""

    @property
    def test(self) -> str:
        """Which test it is."""

    @property
    def outcome(self) -> str:
        """What it came to."""

    @property
    def bank(self) -> int | None:
        """The bank it is about."""

    @property
    def figures(self) -> Mapping[str, object]:
        """As they were sent."""


def is_of_no_cylinder(order: WorkOrder, test: str, cylinder: int | None) -> bool:
    """Return whether a finding is about no single cylinder.

    Plugs that all look alike, or a supply that feeds all, are about none.
    """
    if test in WHOLE_ENGINE - EITHER_WAY:
        return True
    may_be = test in EITHER_WAY or (
        test in {CylinderFinding.Test.OTHER, *ONLY_BEYOND} and order.judgement.is_beyond_compression
    )
    return cylinder is None and may_be


def checked_figures(order: WorkOrder, found: Typed) -> tuple[dict[str, Value], int | None]:
    """Return a finding's figures as they are kept, and its bank.

    Raises
    ------
    ValidationError
        By the figure's name, or under `bank`.
    """
    entry = typed_test_of(order, found.test)
    sent = {name: v for name, v in found.figures.items() if v is not None and v != ""}
    if found.outcome == CylinderFinding.Outcome.NOT_DONE:
        sent = {}
    fuel, unit = fuel_of(order.visit, order.judgement.run), order.visit.shop.pressure_unit
    kept, refused = checked_values(entry.typed if entry else (), sent, fuel=fuel, unit=unit)
    if refused:
        raise ValidationError(dict(refused))
    if entry is None or entry.scope is not Scope.BANK:
        return kept, None
    if found.bank is None and kept:
        raise ValidationError({"bank": _("Choose the bank.")})
    if found.bank is not None and not 1 <= found.bank <= MOST_BANKS:
        raise ValidationError(
            {"bank": _("Choose bank 1 or bank 2, as the scan tool numbers them.")}
        )
    return kept, found.bank


def typed_contradictions(
    order: WorkOrder, new: Sequence[CylinderFinding], replaced: Iterable[CylinderFinding]
) -> list[str]:
    """Return which outcomes do not fit what the rules say once new findings stand.

    Parameters
    ----------
    new
        Of one test, checked, not saved.
    replaced
        Those that stand until the new ones take their place.
    """
    entry = typed_test_of(order, new[0].test) if new else None
    if entry is None:
        return []
    gone = {f.pk for f in replaced}
    standing = [
        f
        for f in order.findings.filter(replaced_by=None, test=entry.test).order_by("pk")
        if f.pk not in gone
    ]
    before = {row_of_finding(f): f for f in standing if f.figures}
    now = before | {row_of_finding(f): f for f in new if f.figures}

    def found_in(findings: Mapping[Row, CylinderFinding]) -> dict[Row, str]:
        rows: dict[Row, Values] = rows_of(findings.values(), entry.test)
        sayings = sayings_about(order, entry, rows)
        told: dict[Row, str] = {}
        for row, outcome in proposed(sayings).items():
            said = findings[row].outcome
            if {said, outcome} != {GOOD, BAD}:
                continue
            why = next(s for s in sayings if s.row == row and s.outcome == outcome)
            told[row] = _(
                "%(why)s That says %(proposed)s, and it is recorded as %(recorded)s. Change the "
                "outcome, or confirm it."
            ) % {
                "why": why.words,
                "proposed": CylinderFinding.Outcome(outcome).label.lower(),
                "recorded": findings[row].get_outcome_display().lower(),
            }
        return told

    # what contradicted already was asked about and confirmed when it was recorded
    asked_before = set(found_in(before)) - {row_of_finding(f) for f in new}
    return [words for row, words in found_in(now).items() if row not in asked_before]
