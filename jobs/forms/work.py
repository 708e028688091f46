"""Forms of the work order: making, changing, answering and finishing it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeAlias, cast
from uuid import uuid4

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.finding_figures import figures_of
from jobs.core.groups import ONLY_BEYOND
from jobs.core.pressure import MOST_KPA, from_kpa, to_kpa
from jobs.core.request import LONGEST_REQUEST
from jobs.core.tests_wanted import WHOLE_ENGINE, recorded_as
from jobs.forms.fields import MeasuredField, conditions_field
from jobs.forms.finding_figures import PRESSURES, SpecialFigures, figure_of
from jobs.forms.notes import PhotoForm
from jobs.models import CylinderFinding, WorkOrder
from jobs.selectors.captures import ANY_CYLINDERS
from jobs.selectors.order_draft import OrderDraft
from jobs.services.findings import NewFinding
from jobs.services.work import OrderWords
from shopdiag.people.asking_back import AsksBack, is_confirmed
from shopdiag.people.core.numerals import written
from shopdiag.people.models import Member
from shopdiag.people.versioned import VersionedForm

if TYPE_CHECKING:
    MemberChoice: TypeAlias = forms.ModelChoiceField[Member]
else:
    MemberChoice = forms.ModelChoiceField


CHECKS_AFTER_REPAIR = _("Checks after the repair")


class MemberChoiceField(MemberChoice):
    """A person of the shop, by name."""

    def label_from_instance(self, obj: Member) -> str:
        return f"{obj.name} ({obj.get_role_display().lower()})"


class WorkOrderForm(AsksBack, forms.Form):
    """What the person may change before an order is made; everything is filled in already."""

    judgement = forms.IntegerField(widget=forms.HiddenInput)
    for_repair = forms.BooleanField(widget=forms.HiddenInput, required=False)
    request = forms.CharField(label=_("Request, in one line"), max_length=LONGEST_REQUEST)
    assigned_to = MemberChoiceField(
        label=_("For"), queryset=Member.objects.none(), required=False, empty_label=_("unassigned")
    )
    tests = forms.MultipleChoiceField(
        label=_("Tests wanted, in this order"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Keep at least one test.")},
    )
    scope_minutes = forms.IntegerField(
        label=_("Time (minutes)"), required=False, min_value=1, max_value=10_000
    )
    scope = forms.CharField(
        label=_("Authorised scope"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    stop_and_call = forms.CharField(
        label=_("Stop and call when"),
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        draft: OrderDraft,
        judgement_id: int,
        mechanics: QuerySet[Member],
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        people = cast("MemberChoiceField", self.fields["assigned_to"])
        people.queryset = mechanics
        tests = cast("forms.MultipleChoiceField", self.fields["tests"])
        tests.choices = [(t.key, f"{n}. {t.words}") for n, t in enumerate(draft.tests, start=1)]
        wanted = [t.key for t in draft.tests if t.key not in draft.done_keys]
        if draft.is_repair:
            tests.label, tests.required = CHECKS_AFTER_REPAIR, False
        self.initial = {
            "judgement": judgement_id,
            "for_repair": draft.is_repair,
            "request": draft.request,
            "tests": wanted,
            "scope": draft.scope,
            "scope_minutes": draft.scope_minutes,
            "stop_and_call": draft.stop_and_call,
            **self.initial,
        }

    @property
    def words(self) -> OrderWords:
        """What the person made of the draft, as the service takes it."""
        return OrderWords(**{k: v for k, v in self.cleaned_data.items() if k != "judgement"})


class WorkOrderEditForm(AsksBack, VersionedForm):
    """Change an order that is not finished."""

    class Meta:
        model = WorkOrder
        fields = ["request", "assigned_to", "scope_minutes", "scope", "stop_and_call"]
        field_classes = {"assigned_to": MemberChoiceField}
        labels = {"scope_minutes": _("Time (minutes)")}
        widgets = {
            "scope": forms.Textarea(attrs={"rows": 2}),
            "stop_and_call": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: Any, mechanics: QuerySet[Member], **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        self._mechanics = mechanics
        people = cast("MemberChoiceField", self.fields["assigned_to"])
        people.queryset = mechanics
        people.empty_label = gettext("unassigned")

    def again(self, data: Any, current: Any) -> "WorkOrderEditForm":  # noqa: ANN401
        return type(self)(data, instance=current, prefix=self.prefix, mechanics=self._mechanics)

    def _shown(self, name: str, value: Any) -> str:  # noqa: ANN401
        return value.name if isinstance(value, Member) else super()._shown(name, value)


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
        cylinders.choices = [(c, _marked(c, order)) for c in cylinders_of(order)]
        cast("forms.ChoiceField", self.fields["test"]).choices = _tests_of(order)
        for name in PRESSURES:
            cast("MeasuredField", self.fields[name]).unit = unit
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
        if test in WHOLE_ENGINE:
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
                % {"value": written(f"{value:g}"), "unit": self._unit, "most": most}
            )
        return value

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
            **{figure_of(name): kpa(name) for name in PRESSURES},
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


def _marked(cylinder: int, order: WorkOrder) -> str:
    if cylinder not in order.cylinders:
        return str(cylinder)
    return f"{cylinder} ({order.judgement.cylinder_mark})"


def cylinders_of(order: WorkOrder) -> list[int]:
    """Return the cylinders an order may have findings for."""
    if order.firing_order:
        return sorted(int(n) for n in order.firing_order.split("-"))
    return sorted({*order.cylinders, *ANY_CYLINDERS})


class CompleteForm(forms.Form):
    """Finish an order."""

    summary = forms.CharField(
        label=_("What was found, in short"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Filled from the findings; add what they do not say."),
    )
    left_out = forms.CharField(
        label=_("Why wanted tests were left out"), required=False, max_length=400
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        unrecorded: Sequence[str],
        is_repair: bool = False,
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        if is_repair:
            self.fields["summary"].label = gettext("What was done")
            self.fields["summary"].help_text = gettext(
                "What was repaired, and what the checks showed."
            )
        if unrecorded:
            field = self.fields["left_out"]
            field.help_text = gettext("Nothing is recorded yet on: %(unrecorded)s.") % {
                "unrecorded": "; ".join(unrecorded)
            }
            field.at_times_needed = True  # type: ignore[attr-defined]
        else:
            del self.fields["left_out"]


class WithdrawForm(forms.Form):
    """Take an order back."""

    reason = forms.CharField(
        label=_("Why it is withdrawn"),
        max_length=400,
        error_messages={"required": _("Say why the work order is withdrawn.")},
    )


class OrderPhotoForm(PhotoForm):
    """A picture of a work order, with the cylinder it shows."""

    cylinder = forms.TypedChoiceField(
        label=_("Cylinder"), coerce=int, required=False, empty_value=None
    )

    def __init__(self, *args: Any, order: WorkOrder, **kwargs: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **kwargs)
        field = cast("forms.TypedChoiceField", self.fields["cylinder"])
        field.choices = [
            ("", gettext("none")),
            *((c, _marked(c, order)) for c in cylinders_of(order)),
        ]
