"""Forms of the work order: making, changing, answering and finishing it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeAlias, cast

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.request import LONGEST_REQUEST
from jobs.forms.finding import cylinders_of, marked
from jobs.forms.notes import PhotoForm
from jobs.models import WorkOrder
from jobs.selectors.order_draft import OrderDraft
from jobs.services.work import OrderWords
from shopdiag.people.asking_back import CONFIRMED, AsksBack
from shopdiag.people.models import Member
from shopdiag.people.versioned import VersionedForm

if TYPE_CHECKING:
    MemberChoice: TypeAlias = forms.ModelChoiceField[Member]
else:
    MemberChoice = forms.ModelChoiceField


class OneLine(forms.Textarea):
    """Text that is one line wherever it is read, but is seen whole while it is typed."""

    def __init__(self) -> None:
        super().__init__(attrs={"rows": 2})

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:  # noqa: ANN401
        value = super().value_from_datadict(data, files, name)
        return " ".join(value.split()) if isinstance(value, str) else value


CHECKS_AFTER_REPAIR = _("Checks after the repair")


class MemberChoiceField(MemberChoice):
    """A person of the shop, by name."""

    def label_from_instance(self, obj: Member) -> str:
        return f"{obj.name} ({obj.get_role_display().lower()})"


class WorkOrderForm(AsksBack, forms.Form):
    """What the person may change before an order is made; everything is filled in already."""

    judgement = forms.IntegerField(widget=forms.HiddenInput)
    for_repair = forms.BooleanField(widget=forms.HiddenInput, required=False)
    request = forms.CharField(
        label=_("Request, in one line"), max_length=LONGEST_REQUEST, widget=OneLine
    )
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
            "request": OneLine,
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


class CompleteForm(AsksBack, forms.Form):
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
        self.fields[CONFIRMED].label = gettext("Complete it all the same")
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
            *((c, marked(c, order)) for c in cylinders_of(order)),
        ]
