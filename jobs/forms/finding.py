"""The form of one finding: a test on one cylinder, one bank or the engine."""

from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.finding_figures import figures_of
from jobs.core.groups import ONLY_BEYOND
from jobs.core.measured_tests import ALL_TYPED, TESTS, Scope
from jobs.core.pressure import MOST_KPA, from_kpa, to_kpa
from jobs.core.tests_wanted import EITHER_WAY, WHOLE_ENGINE, recorded_as
from jobs.forms.fields import MeasuredField, conditions_field
from jobs.forms.finding_figures import PRESSURES, SpecialFigures, figure_of
from jobs.forms.typed_fields import figure_field, kept_as_shown
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import ANY_CYLINDERS
from jobs.selectors.figure_limits import limit_words_by_figure
from jobs.selectors.typed_findings import typed_test_of
from jobs.services.findings import NewFinding
from shopdiag.people.asking_back import AsksBack, is_confirmed
from shopdiag.people.core.numerals import plain_figure, written


class FindingForm(AsksBack, SpecialFigures):
    """One test on one cylinder or on the engine, its pressure in the shop's unit."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    replaces = forms.IntegerField(widget=forms.HiddenInput, required=False)
    cylinder = forms.TypedChoiceField(
        label=_("Cylinder"),
        coerce=int,
        required=False,
        empty_value=None,
        widget=forms.RadioSelect,
    )
    bank = forms.TypedChoiceField(
        label=_("Bank"),
        coerce=int,
        required=False,
        empty_value=None,
        choices=[(1, _("Bank 1")), (2, _("Bank 2"))],
        widget=forms.RadioSelect,
        help_text=_("As the scan tool numbers them: bank 1 holds cylinder 1."),
    )
    test = forms.ChoiceField(
        label=_("Test"),
        choices=CylinderFinding.Test.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose the test.")},
    )
    outcome = forms.ChoiceField(
        label=_("Outcome"),
        choices=CylinderFinding.Outcome.choices,
        widget=forms.RadioSelect,
        help_text=_("The manufacturer's limit decides; “ambiguous” is an answer too."),
        error_messages={"required": _("Choose good, bad, ambiguous or not done.")},
    )
    first_puff = MeasuredField(
        label=_("Gauge after the first puff"),
        required=False,
        min_value=0,
        error_messages={"min_value": _("A gauge pressure cannot be negative; check the figure.")},
    )
    pressure = MeasuredField(
        label=_("Gauge after the last puff"),
        required=False,
        at_times_needed=True,
        min_value=0,
        error_messages={"min_value": _("A gauge pressure cannot be negative; check the figure.")},
    )
    leak_percent = MeasuredField(
        unit="%",
        label=_("Leakage"),
        required=False,
        at_times_needed=True,
        min_value=0,
        max_value=100,
        error_messages={
            "min_value": _("Leakage lies between 0 and 100 %%."),
            "max_value": _("Leakage lies between 0 and 100 %%."),
        },
    )
    heard_at = forms.ChoiceField(
        label=_("Air escaping at"),
        choices=[("", _("nowhere")), *CylinderFinding.HeardAt.choices[1:]],
        required=False,
        widget=forms.RadioSelect,
    )
    words = forms.CharField(
        label=_("What was found, or why it was not done"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    conditions = conditions_field()

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        order: WorkOrder,
        unit: str,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._unit = unit
        cylinders = cast("forms.TypedChoiceField", self.fields["cylinder"])
        cylinders.choices = [(c, marked(c, order)) for c in cylinders_of(order)]
        cast("forms.ChoiceField", self.fields["test"]).choices = _tests_of(order)
        for name in PRESSURES:
            cast("MeasuredField", self.fields[name]).unit = unit
        self._typed = {test: typed_test_of(order, test) for test in TESTS}
        asked = self.data.get("test") if self.is_bound else self.initial.get("test")
        entry = self._typed.get(str(asked))
        # limits cost a query, so that only the test at hand tells them
        limits = limit_words_by_figure(order, entry) if entry else {}
        for figure in ALL_TYPED:
            field = figure_field(figure, unit, limit=limits.get(figure.name, ""))
            self.fields[figure.name] = field
        for name in ("cylinder", "words", "idle"):
            self.fields[name].at_times_needed = True  # type: ignore[attr-defined]

    def full_clean(self) -> None:
        """Ask only for what the test shows: a figure left in a hidden field says nothing."""
        super().full_clean()
        if not self.is_bound:
            return
        test, outcome = self.data.get("test", ""), self.data.get("outcome", "")
        not_done = outcome == CylinderFinding.Outcome.NOT_DONE
        shown = figures_of(test)
        for name in ("pressure", "first_puff", "leak_percent", *SpecialFigures.base_fields):
            if not_done or figure_of(name) not in shown:
                self.errors.pop(name, None)
                self.cleaned_data[name] = None
        entry = self._typed.get(test)
        asked = {f.name for f in entry.typed} if entry and not not_done else set()
        for figure in ALL_TYPED:
            if figure.name not in asked:
                self.errors.pop(figure.name, None)
                self.cleaned_data[figure.name] = None
        if entry is None or entry.scope is not Scope.BANK:
            self.errors.pop("bank", None)
            self.cleaned_data["bank"] = None
        if test in WHOLE_ENGINE - EITHER_WAY:
            self.errors.pop("cylinder", None)
            self.cleaned_data["cylinder"] = None

    def clean_pressure(self) -> float | None:
        return self._in_reach(self.cleaned_data["pressure"])

    def clean_first_puff(self) -> float | None:
        return self._in_reach(self.cleaned_data["first_puff"])

    def clean_supply(self) -> float | None:
        return self._in_reach(self.cleaned_data["supply"])

    def clean_idle(self) -> float | None:
        return self._in_reach(self.cleaned_data["idle"])

    def clean_snap(self) -> float | None:
        return self._in_reach(self.cleaned_data["snap"])

    def _in_reach(self, value: float | None) -> float | None:
        if value is not None and to_kpa(value, self._unit) > MOST_KPA:
            most = from_kpa(MOST_KPA, self._unit)
            raise forms.ValidationError(
                gettext(
                    "%(value)s %(unit)s is more than a gauge shows (%(most).0f %(unit)s); "
                    "check the figure and the unit."
                )
                % {"value": written(plain_figure(value)), "unit": self._unit, "most": most}
            )
        return value

    def _figures(self) -> dict[str, object]:
        """Return the typed figures as they are kept; one left as shown to the last digit."""
        before = self.initial.get("figures") or {}
        data = self.cleaned_data
        kept = {f.name: kept_as_shown(f, data[f.name], before, self._unit) for f in ALL_TYPED}
        return {name: value for name, value in kept.items() if value not in {None, ""}}

    @property
    def typed_fields(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields of typed figures by test, those of a bank with the choice of it."""
        return [
            (test, [self[f.name] for f in entry.typed])
            for test, entry in self._typed.items()
            if entry is not None
        ]

    @property
    def found(self) -> NewFinding:
        """The finding as the service takes it."""
        data = self.cleaned_data

        def kpa(name: str) -> float | None:
            return None if data[name] is None else to_kpa(data[name], self._unit)

        return NewFinding(
            cylinder=data["cylinder"],
            test=data["test"],
            outcome=data["outcome"],
            leak_percent=data["leak_percent"],
            orifice_mm=data["orifice_mm"],
            at_tdc=data["at_tdc"],
            is_warm=data["is_warm"],
            oil_ml=data["oil_ml"],
            swept_ml=data["swept_ml"],
            bank=data["bank"],
            figures=self._figures(),
            first_puff_kpa=kpa("first_puff"),
            pressure_kpa=kpa("pressure"),
            supply_kpa=kpa("supply"),
            idle_kpa=kpa("idle"),
            snap_kpa=kpa("snap"),
            heard_at=data["heard_at"],
            conditions=data["conditions"],
            words=data["words"],
            confirmed=is_confirmed(self),
        )


def _tests_of(order: WorkOrder) -> list[tuple[str, str]]:
    """Return the tests that can be recorded on an order, those it asks for first."""
    wanted = {recorded_as(test["key"]) for test in order.tests}
    beyond = order.judgement.is_beyond_compression
    offered = [
        (test, str(label))
        for test, label in CylinderFinding.Test.choices
        if beyond or test not in ONLY_BEYOND
    ]
    return sorted(offered, key=lambda choice: choice[0] not in wanted)


def marked(cylinder: int, order: WorkOrder) -> str:
    """Return a cylinder's number, with the word for one that the order names."""
    if cylinder not in order.cylinders:
        return str(cylinder)
    return f"{cylinder} ({order.judgement.cylinder_mark})"


def cylinders_of(order: WorkOrder) -> list[int]:
    """Return the cylinders an order may have findings for."""
    if order.firing_order:
        return sorted(int(n) for n in order.firing_order.split("-"))
    return sorted({*order.cylinders, *ANY_CYLINDERS})
