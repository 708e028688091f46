"""One test on every cylinder, on both banks or on the engine: a row for each, saved in one go."""

from collections.abc import Iterator, Mapping
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext

from jobs.core.cautions import cautions_of_test
from jobs.core.measured_tests import Scope
from jobs.core.pressure import from_kpa, to_kpa
from jobs.forms.fields import conditions_field
from jobs.forms.finding_figures import PRESSURES, SpecialFigures, figure_of
from jobs.forms.reading_columns import FOR_ALL, ROW_FIGURES, columns_of, figures_kept
from jobs.forms.reading_proposals import Proposals
from jobs.forms.reading_rows import Cell, Row, head_of, named, row_fields, row_of
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import fuel_of
from jobs.selectors.figure_limits import LimitLine, limit_lines_of
from jobs.selectors.findings import current_findings, last_like
from jobs.selectors.typed_findings import banks_of, typed_test_of
from jobs.services.findings import NewFinding
from jobs.services.reading_table import TableRow
from shopdiag.people.asking_back import AsksBack, is_confirmed

_Outcome = CylinderFinding.Outcome
_Test = CylinderFinding.Test


class ReadingTable(AsksBack, SpecialFigures):
    """A test's readings by row, in the shop's unit.

    A row that is left as the page showed it says nothing; one that was changed is recorded, or
    corrects what stood in it.
    """

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    test = forms.CharField(widget=forms.HiddenInput)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    """The findings that the rows showed, as `3:15,4:16`."""
    proposed = forms.CharField(widget=forms.HiddenInput, required=False)
    """The rows whose outcome the page proposed and nobody chose, as `1,3`; the page's script
    writes it, so that none is taken for chosen where no script runs."""
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
        self._fuel = fuel_of(order.visit, order.judgement.run)
        self.entry = typed_test_of(order, test)
        self.scope = self.entry.scope if self.entry else Scope.CYLINDER
        self.columns = columns_of(test, self._unit, self.entry)
        self.numbers = self._row_numbers()
        self._stands = {
            number: f
            for f in current_findings(order)
            if f.test == test and (number := self._number_of(f)) in self.numbers
        }
        self._proposals = Proposals(order, self.test_key, self.entry, self._fuel)
        kept = {
            *FOR_ALL.get(self.test_key, ()),
            "form_token",
            "test",
            "seen",
            "proposed",
            "conditions",
        }
        for name in [n for n in self.fields if n not in kept and n != "confirmed"]:
            del self.fields[name]
        for number in self.numbers:
            self.fields |= row_fields(self.scope, number, test, self.columns)
        self._set_initial()
        self._proposed: set[int] = set()

    def _row_numbers(self) -> list[int]:
        """Return the rows in the order they are asked in: suspects first, 0 for the engine."""
        if self.scope is Scope.ENGINE:
            return [0]
        if self.scope is Scope.BANK:
            return [1, 2]
        engine = sorted(int(n) for n in self.order.firing_order.split("-"))
        return sorted(engine, key=lambda c: c not in self.order.cylinders)

    def _number_of(self, finding: CylinderFinding) -> int:
        """Return the row that a finding stands in; -1 where it stands in none."""
        if self.scope is Scope.ENGINE:
            return 0
        place = finding.bank if self.scope is Scope.BANK else finding.cylinder
        return -1 if place is None else place

    def named(self, number: int, name: str) -> str:
        """Return what a row's field is called."""
        return named(self.scope, number, name)

    def _set_initial(self) -> None:
        self.initial = {"test": self.test_key.value, "seen": self._seen_now()}
        for number, finding in self._stands.items():
            for name, value in row_of(finding, self.columns).items():
                self.initial[self.named(number, name)] = value
        like = last_like(self.order, self.test_key)
        if like is None:
            return
        self.initial["conditions"] = like.conditions
        # what stays the same from cylinder to cylinder: the tester, the oil, the engine
        for name in ("orifice_mm", "oil_ml", "swept_ml", "is_warm"):
            self.initial[name] = getattr(like, name)
        if self.test_key == _Test.REPEAT and not self._stands:
            # made again because the engine was in another state
            self.initial["is_warm"] = None
        if like.supply_kpa is not None:
            self.initial["supply"] = round(from_kpa(like.supply_kpa, self._unit), 2)

    def _seen_now(self) -> str:
        return ",".join(f"{n}:{f.pk}" for n, f in sorted(self._stands.items()))

    def clean(self) -> dict[str, Any]:
        """Hold each changed row against its rules; propose outcomes that nobody chose."""
        super().clean()
        changed = self._changed()
        # every figure before any outcome: one that cannot be takes no part in proposals
        for number in changed:
            self._check_figures(number)
        self._propose_anew()
        for number in changed:
            self._check_outcome(number)
        if not self.errors and not changed:
            raise forms.ValidationError(gettext("Write down a reading first."))
        return self.cleaned_data

    def _check_figures(self, number: int) -> None:
        for column in self.columns:
            if refusal := column.refusal(self._value(number, column.name), self._fuel):
                self.add_error(self.named(number, column.name), refusal)

    def _propose_anew(self) -> None:
        """Hold the outcomes that the page proposed against the figures as they were read."""
        sent = str(self.cleaned_data.get("proposed") or "").split(",")
        proposals = self.proposals()
        for number in (n for n in self.numbers if str(n) in sent):
            name, proposed = self.named(number, "outcome"), proposals.get(number, "")
            if self.cleaned_data.get(name) != proposed:
                self.cleaned_data[name] = ""
            self._show_proposed(number, proposed)

    def _show_proposed(self, number: int, outcome: str) -> None:
        """Show an outcome as a proposal when the page comes back."""
        data = cast("Any", self.data).copy()
        data[self.named(number, "outcome")] = outcome
        data["proposed"] = ""
        self.data = data
        if outcome:
            self._proposed.add(number)
        else:
            self._proposed.discard(number)

    def _check_outcome(self, number: int) -> None:
        names = [column.name for column in self.columns]
        if any(self.named(number, name) in self.errors for name in (*names, "outcome")):
            return
        is_measured = any(self._value(number, name) not in (None, "") for name in names)
        outcome = self._value(number, "outcome")
        if outcome == _Outcome.NOT_DONE and is_measured:
            said = gettext("A reading stands beside “not measured”: empty it, or say what it is.")
            self.add_error(self.named(number, "outcome"), said)
        if outcome:
            return
        if not is_measured:
            said = (
                gettext("What is recorded cannot be emptied: correct it, or say “not measured”.")
                if number in self._seen()
                else gettext("Type the reading, or choose “not measured” and say why.")
            )
            self.add_error(self.named(number, names[-1]), said)
            return
        proposed = self.proposals().get(number, "")
        self._show_proposed(number, proposed)
        self.add_error(
            self.named(number, "outcome"), self._proposals.sentence(proposed, number or None)
        )

    def _value(self, number: int, name: str) -> Any:  # noqa: ANN401 - a figure or a text
        return self.cleaned_data.get(self.named(number, name))

    def _seen(self) -> dict[int, int]:
        """Return the findings that the rows of the page showed."""
        sent = str(self.cleaned_data.get("seen", "") if self.is_bound else self._seen_now())
        pairs = [pair.split(":") for pair in sent.split(",") if pair.count(":") == 1]
        return {int(n): int(pk) for n, pk in pairs if n.isdecimal() and pk.isdecimal()}

    def _changed(self) -> list[int]:
        """Return the rows that say something else than their page showed."""
        seen = self.order.findings.filter(pk__in=self._seen().values(), test=self.test_key)
        shown = {self._number_of(f): row_of(f, self.columns) for f in seen}
        return [n for n in self.numbers if self._differs(n, shown.get(n, {}))]

    def _differs(self, number: int, shown: Mapping[str, Any]) -> bool:
        names = (*(column.name for column in self.columns), "outcome", "words", "heard_at")
        return any(
            field.has_changed(shown.get(name), self[self.named(number, name)].data)
            for name in names
            if (field := self.fields.get(self.named(number, name))) is not None
        )

    def proposals(self) -> dict[int, str]:
        """Return the outcomes that the figures of the table propose, by row."""
        kept = {
            number: {c.name: c.kept(self._figure(number, c.name)) for c in self.columns}
            for number in self.numbers
        }
        awaited = [n for n in self.numbers if self._now(n, "outcome") != _Outcome.NOT_DONE]
        return self._proposals.of(kept, awaited, main=self.columns[-1].name)

    def _figure(self, number: int, name: str) -> Any:  # noqa: ANN401 - a figure or a text
        value = self._now(number, name)
        return float(value) if isinstance(value, int | float) else value or None

    def _now(self, number: int, name: str) -> Any:  # noqa: ANN401 - a figure or a text
        """Return what a row says: as it was sent, or as it stands."""
        if self.is_bound:
            return getattr(self, "cleaned_data", {}).get(self.named(number, name))
        return self.initial.get(self.named(number, name))

    def failing(self) -> set[int]:
        """Return the rows whose reading misses the job's limits."""
        if self.test_key != _Test.GAUGE_DRY and self.entry is None:
            return set()
        return {number for number, outcome in self.proposals().items() if outcome == "bad"}

    @property
    def heads(self) -> list[str]:
        """What the columns of the figures are called."""
        return [column.head for column in self.columns]

    @property
    def is_wide(self) -> bool:
        """Whether the rows hold more than fits beside each other on a phone."""
        return len(self.columns) > 2

    @property
    def for_all(self) -> list[forms.BoundField]:
        """The fields that are said once for every row."""
        return [self[name] for name in (*FOR_ALL.get(self.test_key, ()), "conditions")]

    @property
    def limits(self) -> dict[str, str]:
        """What the page's script proposes outcomes by, as attributes of the form."""
        return self._proposals.attributes(self._unit)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind before the first entry; empty once something is recorded."""
        return () if self._stands else cautions_of_test(self.test_key, self._fuel)

    @property
    def limit_lines(self) -> tuple[LimitLine, ...]:
        """What typed figures are held against, and where that comes from."""
        return limit_lines_of(self.order, self.entry) if self.entry else ()

    @property
    def rows(self) -> Iterator[Row]:
        """The rows in the order they are asked in."""
        failing = self.failing()
        for n in self.numbers:
            heard = self.named(n, "heard_at")
            yield Row(
                number=n,
                head=head_of(self.scope, n),
                is_named=self.scope is Scope.CYLINDER and n in self.order.cylinders,
                figures=tuple(Cell(c, self[self.named(n, c.name)]) for c in self.columns),
                outcome=self[self.named(n, "outcome")],
                words=self[self.named(n, "words")],
                heard_at=self[heard] if heard in self.fields else None,
                is_missing_limit=n in failing,
                is_proposed=n in self._proposed,
                is_rest=self._is_rest(n),
                is_recorded=n in self._stands,
            )

    @property
    def has_rest(self) -> bool:
        """Whether some rows wait out of sight."""
        return any(self._is_rest(n) for n in self.numbers)

    def _is_rest(self, number: int) -> bool:
        """Return whether a row is empty and the test is not asked for on it."""
        if self.scope is Scope.BANK:
            is_asked = number <= banks_of(self.order)
        else:
            is_asked = (
                self.test_key == _Test.GAUGE_DRY
                or (self.entry is not None and self.test_key != _Test.WIRING)
                or not self.order.cylinders
                or number in self.order.cylinders
            )
        if is_asked:
            return False
        names = (*(column.name for column in self.columns), "outcome", "words")
        return not any(self[self.named(number, name)].value() for name in names)

    @property
    def changed_rows(self) -> list[TableRow]:
        """The rows to record, as the service takes them."""
        seen = self._seen()
        return [TableRow(self._found(n), seen.get(n)) for n in self._changed()]

    def _found(self, number: int) -> NewFinding:
        data = self.cleaned_data
        outcome = self._value(number, "outcome")
        is_done = outcome != _Outcome.NOT_DONE
        stands = self._stands.get(number)
        values = {c.name: self._value(number, c.name) for c in self.columns}
        figures: dict[str, Any] = {}
        if is_done and self.entry is None:
            figures = {figure_of(c.name): c.kept(values[c.name]) for c in self.columns}
            for name in FOR_ALL.get(self.test_key, ()):
                # a correction of one figure leaves how that one was done as it was noted
                if stands and name not in self.changed_data:
                    figures[figure_of(name)] = getattr(stands, figure_of(name))
                else:
                    figures[figure_of(name)] = self._kept_for_all(name)
        conditions = data["conditions"]
        if stands and "conditions" not in self.changed_data:
            conditions = stands.conditions
        return NewFinding(
            cylinder=number if self.scope is Scope.CYLINDER else None,
            bank=number if self.scope is Scope.BANK else None,
            test=self.test_key,
            outcome=outcome,
            heard_at=self._value(number, "heard_at") or "",
            conditions=conditions,
            words=self._value(number, "words"),
            figures=figures_kept(self.columns, values, stands) if is_done else {},
            **figures,
        )

    def _kept_for_all(self, name: str) -> Any:  # noqa: ANN401 - a figure or a tick
        value = self.cleaned_data[name]
        is_pressure = value is not None and name in PRESSURES
        return to_kpa(value, self._unit) if is_pressure else value

    @property
    def called(self) -> dict[str, str]:
        """What this form calls the fields that the service names by row."""
        names = (*(column.name for column in self.columns), "outcome", "words", "heard_at", "bank")
        return {
            f"{self.scope.value}_{n}.{name}": self.named(n, "outcome" if name == "bank" else name)
            for n in self.numbers
            for name in names
        }

    @property
    def confirmed_as(self) -> str | bool:
        """What a person was asked and says is right as typed."""
        return is_confirmed(self)

    def show_what_stands(self) -> None:
        """Let the page that comes back know what was recorded meanwhile."""
        data, changed = cast("Any", self.data).copy(), set(self._changed())
        for number, finding in self._stands.items():
            if number not in changed:
                for name, value in row_of(finding, self.columns).items():
                    data[self.named(number, name)] = "" if value is None else value
        data["seen"] = self._seen_now()
        self.data = data


def has_table(order: WorkOrder, test: str) -> bool:
    """Return whether a test is recorded as a table; of cylinders only where they are known."""
    entry = typed_test_of(order, test)
    if entry is not None and entry.scope is not Scope.CYLINDER:
        return True
    return (entry is not None or test in ROW_FIGURES) and bool(order.firing_order)
