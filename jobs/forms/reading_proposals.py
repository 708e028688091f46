"""Which outcomes a table of readings proposes, and by which rule."""

from collections.abc import Collection, Mapping
from typing import Any

from django.utils.translation import gettext

from jobs.core.measured_tests import OPEN, Row, Saying, TypedTest, Values, proposed
from jobs.core.plausible import doubts_about_pressure, usual_when_good
from jobs.core.pressure import from_kpa
from jobs.core.proposed_outcomes import (
    BAD_LEAK_PERCENT,
    GOOD_LEAK_PERCENT,
    MOST_LEAK_PERCENT,
    proposed_by_leak,
    proposed_by_limit,
)
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.findings import gauge_rule_of
from jobs.selectors.typed_findings import sayings_about

_Test = CylinderFinding.Test


class Proposals:
    """The outcomes that the figures of one test propose."""

    def __init__(self, order: WorkOrder, test: str, entry: TypedTest | None, fuel: str) -> None:
        self._order, self._test, self._entry, self._fuel = order, test, entry, fuel
        self._sayings: tuple[Saying, ...] = ()
        self._dry_kpa: dict[int, float] = {}

    def of(
        self, rows: Mapping[int, Mapping[str, Any]], awaited: Collection[int], main: str
    ) -> dict[int, str]:
        """Return the proposed outcomes by row.

        Parameters
        ----------
        rows
            Figures as they are kept, None where there is none.
        awaited
            Rows that have a reading or may still get one.
        main
            The figure that a test of compression is judged by.
        """
        if self._entry is not None:
            return self._of_typed(self._entry, rows)
        mains = {n: values[main] for n, values in rows.items() if values[main] is not None}
        if self._test == _Test.LEAK_DOWN:
            return proposed_by_leak(mains)
        if self._test != _Test.GAUGE_DRY:
            return {}
        self._dry_kpa = mains
        return proposed_by_limit(mains, awaited, gauge_rule_of(self._order), self._fuel)

    def _of_typed(self, entry: TypedTest, rows: Mapping[int, Mapping[str, Any]]) -> dict[int, str]:
        taken: dict[Row, Values] = {
            number or None: {name: v for name, v in values.items() if v is not None}
            for number, values in rows.items()
        }
        self._sayings = sayings_about(self._order, entry, taken)
        return {row or 0: outcome for row, outcome in proposed(self._sayings).items()}

    def sentence(self, outcome: str, row: Row) -> str:
        """Return what a row without an outcome is told."""
        if self._entry is None and not outcome:
            if doubts := self._doubts(row):
                return gettext("%(why)s Choose the outcome.") % {"why": doubts[0]}
            return gettext(
                "Choose the outcome. The limit proposes one once every cylinder has a reading."
            )
        why = next((s for s in self._sayings if s.row == row and s.outcome == outcome), None)
        if outcome and why:
            return gettext("%(why)s Proposed: %(outcome)s. Save again if you agree.") % {
                "why": why.words,
                "outcome": CylinderFinding.Outcome(outcome).label.lower(),
            }
        if outcome:
            return gettext("Proposed by the limit: %(outcome)s. Save again if you agree.") % {
                "outcome": CylinderFinding.Outcome(outcome).label.lower()
            }
        still = next((s for s in self._sayings if s.row == row and s.outcome == OPEN), None)
        return (
            gettext("%(why)s Choose the outcome.") % {"why": still.words}
            if still
            else gettext("No rule settles this; choose the outcome.")
        )

    def _doubts(self, row: Row) -> tuple[str, ...]:
        """Return why nothing is proposed for a gauge reading: mostly one in another unit."""
        pressure_kpa = self._dry_kpa.get(row or 0)
        if pressure_kpa is None:
            return ()
        unit = self._order.visit.shop.pressure_unit
        return doubts_about_pressure(pressure_kpa, outcome="good", fuel=self._fuel, unit=unit)

    def attributes(self, unit: str) -> dict[str, str]:
        """Return what the page's script proposes outcomes by; empty where it proposes none."""
        if self._entry is not None:
            return {}
        if self._test == _Test.LEAK_DOWN:
            leaks = {
                "good-most": GOOD_LEAK_PERCENT,
                "bad-above": BAD_LEAK_PERCENT,
                "most": MOST_LEAK_PERCENT,
            }
            return {name: f"{value:g}" for name, value in leaks.items()}
        if self._test != _Test.GAUGE_DRY:
            return {}
        rule = gauge_rule_of(self._order)
        least_kpa, most_kpa = usual_when_good(self._fuel)
        pressures = {
            "least": rule.least_here_kpa,
            "spread": rule.spread_kpa,
            "good-least": least_kpa,
            "most": most_kpa,
        }
        given = {n: from_kpa(v, unit) for n, v in pressures.items() if v is not None}
        if rule.lowest_share is not None:
            given["share"] = rule.lowest_share
        return {name: f"{value:.9g}" for name, value in given.items()}
