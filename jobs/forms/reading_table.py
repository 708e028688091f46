"""One test on every cylinder: a row for each, suspects first, saved in one go."""

from collections.abc import Iterator, Mapping
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext

from jobs.core.plausible import usual_when_good
from jobs.core.pressure import MOST_KPA, from_kpa, to_kpa
from jobs.core.proposed_outcomes import (
    BAD_LEAK_PERCENT,
    GOOD_LEAK_PERCENT,
    proposed_by_leak,
    proposed_by_limit,
)
from jobs.forms.fields import conditions_field
from jobs.forms.finding_figures import PRESSURES, SpecialFigures, figure_of
from jobs.forms.reading_rows import FOR_ALL, HEADS, ROW_FIGURES, Row, named, row_fields, row_of
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import fuel_of
from jobs.selectors.findings import current_findings, gauge_rule_of, last_like
from jobs.services.findings import NewFinding
from jobs.services.reading_table import TableRow
from shopdiag.people.asking_back import AsksBack, is_confirmed
from shopdiag.people.core.numerals import written

_Outcome = CylinderFinding.Outcome
_Test = CylinderFinding.Test


class ReadingTable(AsksBack, SpecialFigures):
    """A test's readings by cylinder, in the shop's unit.

    A row that is left as the page showed it says nothing; one that was changed is recorded, or
    corrects what stood in it.
    """

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    test = forms.CharField(widget=forms.HiddenInput)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    """The findings that the rows showed, as `3:15,4:16`."""
    conditions = conditions_field()

    def __init__(
        self,
        data: Any = None,  # noqa: ANN401 - Django's signature
        *,
        order: WorkOrder,
        test: str,
    ) -> None:
        super().__init__(data, auto_id=f"id_{test}_%s")
        self.order, self.test_key = order, _Test(test)
        self._unit = order.visit.shop.pressure_unit
        self._names = ROW_FIGURES[self.test_key]
        engine = sorted(int(n) for n in order.firing_order.split("-"))
        self.cylinders = sorted(engine, key=lambda c: c not in order.cylinders)
        self._stands = {
            f.cylinder: f for f in current_findings(order) if f.test == test and f.cylinder
        }
        kept = {*FOR_ALL.get(self.test_key, ()), "form_token", "test", "seen", "conditions"}
        for name in [n for n in self.fields if n not in kept and n != "confirmed"]:
            del self.fields[name]
        for cylinder in self.cylinders:
            self.fields |= row_fields(cylinder, test, self._unit)
        self._set_initial()
        self._proposed: set[int] = set()

    def _set_initial(self) -> None:
        self.initial = {"test": self.test_key.value, "seen": self._seen_now()}
        for cylinder, finding in self._stands.items():
            for name, value in row_of(finding, self._unit).items():
                self.initial[named(cylinder, name)] = value
        like = last_like(self.order, self.test_key)
        if like is None:
            return
        self.initial["conditions"] = like.conditions
        # what stays the same from cylinder to cylinder: the tester, the oil, the engine
        for name in ("orifice_mm", "oil_ml", "swept_ml", "is_warm"):
            self.initial[name] = getattr(like, name)
        if like.supply_kpa is not None:
            self.initial["supply"] = round(from_kpa(like.supply_kpa, self._unit), 2)

    def _seen_now(self) -> str:
        return ",".join(f"{c}:{f.pk}" for c, f in sorted(self._stands.items()))

    def clean(self) -> dict[str, Any]:
        """Hold each changed row against its rules; propose outcomes that nobody chose."""
        super().clean()
        for cylinder in self._changed():
            self._check_row(cylinder)
        if not self.errors and not self._changed():
            raise forms.ValidationError(gettext("Write down a reading first."))
        return self.cleaned_data

    def _check_row(self, cylinder: int) -> None:
        if any(named(cylinder, name) in self.errors for name in (*self._names, "outcome")):
            return
        values = [self._value(cylinder, name) for name in self._names]
        for name, value in zip(self._names, values, strict=True):
            is_pressure = name in PRESSURES and value is not None
            if is_pressure and to_kpa(value, self._unit) > MOST_KPA:
                self.add_error(
                    named(cylinder, name),
                    gettext(
                        "%(value)s %(unit)s is more than a gauge shows (%(most).0f %(unit)s); "
                        "check the figure and the unit."
                    )
                    % {
                        "value": written(f"{value:g}"),
                        "unit": self._unit,
                        "most": from_kpa(MOST_KPA, self._unit),
                    },
                )
                return
        outcome = self._value(cylinder, "outcome")
        if outcome == _Outcome.NOT_DONE and any(v is not None for v in values):
            said = gettext("A reading stands beside “not measured”: empty it, or say what it is.")
            self.add_error(named(cylinder, "outcome"), said)
        if outcome:
            return
        if not any(v is not None for v in values):
            said = (
                gettext("What is recorded cannot be emptied: correct it, or say “not measured”.")
                if cylinder in self._seen()
                else gettext("Type the reading, or choose “not measured” and say why.")
            )
            self.add_error(named(cylinder, self._names[-1]), said)
            return
        proposed = self.proposals().get(cylinder, "")
        if proposed:
            self._proposed.add(cylinder)
            # shown as the row's outcome when the page comes back
            data = cast("Any", self.data).copy()
            data[named(cylinder, "outcome")] = proposed
            self.data = data
            said = gettext("Proposed by the limit: %(outcome)s. Save again if you agree.") % {
                "outcome": _Outcome(proposed).label.lower()
            }
        else:
            said = gettext(
                "Choose the outcome. The limit proposes one once every cylinder has a reading."
            )
        self.add_error(named(cylinder, "outcome"), said)

    def _value(self, cylinder: int, name: str) -> Any:  # noqa: ANN401 - a figure or a text
        return self.cleaned_data.get(named(cylinder, name))

    def _seen(self) -> dict[int, int]:
        """Return the findings that the rows of the page showed."""
        sent = str(self.cleaned_data.get("seen", "") if self.is_bound else self._seen_now())
        pairs = [pair.split(":") for pair in sent.split(",") if pair.count(":") == 1]
        return {int(c): int(pk) for c, pk in pairs if c.isdecimal() and pk.isdecimal()}

    def _changed(self) -> list[int]:
        """Return the cylinders whose row says something else than its page showed."""
        shown = {
            f.cylinder: row_of(f, self._unit)
            for f in self.order.findings.filter(pk__in=self._seen().values(), test=self.test_key)
        }
        return [c for c in self.cylinders if self._differs(c, shown.get(c, {}))]

    def _differs(self, cylinder: int, shown: Mapping[str, Any]) -> bool:
        names = (*self._names, "outcome", "words", "heard_at")
        return any(
            field.has_changed(shown.get(name), self[named(cylinder, name)].data)
            for name in names
            if (field := self.fields.get(named(cylinder, name))) is not None
        )

    def proposals(self) -> dict[int, str]:
        """Return the outcomes that the figures of the table propose, by cylinder."""
        main = self._names[-1]
        if self.test_key == _Test.LEAK_DOWN:
            return proposed_by_leak(self._figures(main))
        if self.test_key != _Test.GAUGE_DRY:
            return {}
        unit = self._unit
        kpa = {c: to_kpa(v, unit) for c, v in self._figures(main).items()}
        return proposed_by_limit(kpa, self._awaited(), gauge_rule_of(self.order), self._fuel())

    def _fuel(self) -> str:
        return fuel_of(self.order.visit, self.order.judgement.run)

    def _awaited(self) -> list[int]:
        """Return the cylinders that have a reading, or may still get one."""
        left_out = _Outcome.NOT_DONE
        return [c for c in self.cylinders if self._now(c, "outcome") != left_out]

    def _figures(self, name: str) -> dict[int, float]:
        found = {c: self._now(c, name) for c in self.cylinders}
        return {c: float(v) for c, v in found.items() if isinstance(v, int | float)}

    def _now(self, cylinder: int, name: str) -> Any:  # noqa: ANN401 - a figure or a text
        """Return what a row says: as it was sent, or as it stands."""
        if self.is_bound:
            return getattr(self, "cleaned_data", {}).get(named(cylinder, name))
        return self.initial.get(named(cylinder, name))

    def failing(self) -> set[int]:
        """Return the cylinders whose dry reading misses the job's limits."""
        if self.test_key != _Test.GAUGE_DRY:
            return set()
        return {c for c, outcome in self.proposals().items() if outcome == "bad"}

    @property
    def heads(self) -> list[str]:
        """What the columns of the figures are called."""
        return [str(HEADS[name]) for name in self._names]

    @property
    def unit(self) -> str:
        """Behind every figure."""
        return "%" if self.test_key == _Test.LEAK_DOWN else self._unit

    @property
    def for_all(self) -> list[forms.BoundField]:
        """The fields that are said once for every row."""
        return [self[name] for name in (*FOR_ALL.get(self.test_key, ()), "conditions")]

    @property
    def limits(self) -> dict[str, str]:
        """What the page's script proposes outcomes by, as attributes of the form."""
        if self.test_key == _Test.LEAK_DOWN:
            leaks = {"good-most": GOOD_LEAK_PERCENT, "bad-above": BAD_LEAK_PERCENT}
            return {name: f"{value:g}" for name, value in leaks.items()}
        if self.test_key != _Test.GAUGE_DRY:
            return {}
        rule = gauge_rule_of(self.order)
        least_kpa, most_kpa = usual_when_good(self._fuel())
        pressures = {
            "least": rule.least_here_kpa,
            "spread": rule.spread_kpa,
            "good-least": least_kpa,
            "good-most": most_kpa,
        }
        given = {n: from_kpa(v, self._unit) for n, v in pressures.items() if v is not None}
        if rule.lowest_share is not None:
            given["share"] = rule.lowest_share
        return {name: f"{value:.9g}" for name, value in given.items()}

    @property
    def rows(self) -> Iterator[Row]:
        """The rows in the order they are asked in."""
        failing = self.failing()
        for c in self.cylinders:
            heard = named(c, "heard_at")
            yield Row(
                cylinder=c,
                is_named=c in self.order.cylinders,
                figures=tuple(self[named(c, name)] for name in self._names),
                outcome=self[named(c, "outcome")],
                words=self[named(c, "words")],
                heard_at=self[heard] if heard in self.fields else None,
                is_missing_limit=c in failing,
                is_proposed=c in self._proposed,
                is_rest=self._is_rest(c),
                is_recorded=c in self._stands,
            )

    @property
    def has_rest(self) -> bool:
        """Whether some cylinders wait out of sight."""
        return any(self._is_rest(c) for c in self.cylinders)

    def _is_rest(self, cylinder: int) -> bool:
        """Return whether a row is empty and the test is not asked for on its cylinder."""
        if self.test_key == _Test.GAUGE_DRY or not self.order.cylinders:
            return False
        if cylinder in self.order.cylinders:
            return False
        names = (*self._names, "outcome", "words")
        return not any(self[named(cylinder, name)].value() for name in names)

    @property
    def changed_rows(self) -> list[TableRow]:
        """The rows to record, as the service takes them."""
        seen = self._seen()
        return [TableRow(self._found(c), seen.get(c)) for c in self._changed()]

    def _found(self, cylinder: int) -> NewFinding:
        data = self.cleaned_data

        def kpa(value: float | None) -> float | None:
            return None if value is None else to_kpa(value, self._unit)

        outcome = self._value(cylinder, "outcome")
        is_done = outcome != _Outcome.NOT_DONE
        names = (*self._names, *FOR_ALL.get(self.test_key, ())) if is_done else ()
        figures: dict[str, Any] = {
            figure_of(name): kpa(value) if name in PRESSURES else value
            for name in names
            for value in [data[name] if name in data else self._value(cylinder, name)]
        }
        conditions = data["conditions"]
        if stands := self._stands.get(cylinder):
            # a correction of one figure leaves how that one was done as it was noted
            if "conditions" not in self.changed_data:
                conditions = stands.conditions
            for name in FOR_ALL.get(self.test_key, ()):
                if is_done and name not in self.changed_data:
                    figures[figure_of(name)] = getattr(stands, figure_of(name))
        return NewFinding(
            cylinder=cylinder,
            test=self.test_key,
            outcome=outcome,
            heard_at=self._value(cylinder, "heard_at") or "",
            conditions=conditions,
            words=self._value(cylinder, "words"),
            **figures,
        )

    @property
    def called(self) -> dict[str, str]:
        """What this form calls the fields that the service names by row."""
        return {
            f"{c}.{name}": named(c, name)
            for c in self.cylinders
            for name in (*self._names, "outcome", "words", "heard_at")
        }

    @property
    def confirmed_as(self) -> str | bool:
        """What a person was asked and says is right as typed."""
        return is_confirmed(self)

    def show_what_stands(self) -> None:
        """Let the page that comes back know what was recorded meanwhile."""
        data, changed = cast("Any", self.data).copy(), set(self._changed())
        for cylinder, finding in self._stands.items():
            if cylinder not in changed:
                for name, value in row_of(finding, self._unit).items():
                    data[named(cylinder, name)] = "" if value is None else value
        data["seen"] = self._seen_now()
        self.data = data


def has_table(order: WorkOrder, test: str) -> bool:
    """Return whether a test is recorded as a table: the engine's cylinders have to be known."""
    return test in ROW_FIGURES and bool(order.firing_order)
