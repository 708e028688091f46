"""What a person marks, and the cases that an instructor sets."""

from collections.abc import Sequence
from typing import Any, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopdiag.people.models import Member
from traces.practice.core.levels import ENGINES, FAULT_LABELS, LEVELS, REMEDY_LABELS, Remedy
from traces.practice.core.marking import Answer, Call, numbers_filled


class DrawForm(forms.Form):
    """Asks for a capture to mark."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    level = forms.TypedChoiceField(
        label=_("Level"),
        coerce=int,
        choices=[],
        help_text=_("A lower level is for practice only; it does not change your own."),
    )

    def __init__(self, *args: Any, reached: int, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        cast("forms.ChoiceField", self.fields["level"]).choices = [
            (
                level.number,
                gettext("%(number)s: %(name)s")
                % {"number": level.number, "name": gettext(level.name)},
            )
            for level in reversed(LEVELS[:reached])
        ]


class MarkForm(forms.Form):
    """The verdict, the weak humps and their cylinders; or what to record anew."""

    call = forms.ChoiceField(
        label=_("What does it show?"),
        choices=[
            (Call.WEAK.value, _("Weak cylinders")),
            (Call.EVEN.value, _("Even: no weak cylinder")),
            (Call.UNCLEAR.value, _("Cannot tell: record it anew")),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": _("Say what the capture shows.")},
    )
    weak = forms.MultipleChoiceField(label=_("Weak humps"), required=False)
    numbers_open = forms.BooleanField(
        label=_("This sync does not settle the cylinder numbers"), required=False
    )
    remedy = forms.ChoiceField(
        label=_("What has to change for the next recording?"),
        required=False,
        choices=[
            ("", _("Choose")),
            *((k.value, _(v)) for k, v in REMEDY_LABELS.items()),
        ],
        help_text=_("Only where the capture cannot be judged."),
    )

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        letters: Sequence[str],
        order: Sequence[int],
        **kwargs: Any,  # noqa: ANN401
    ) -> None:
        super().__init__(*args, **kwargs)
        self.letters, self.order = tuple(letters), tuple(order)
        weak = cast("forms.MultipleChoiceField", self.fields["weak"])
        weak.choices = [(str(place), letter) for place, letter in enumerate(letters)]
        for place, letter in enumerate(letters):
            self.fields[f"number_{place}"] = forms.TypedChoiceField(
                label=gettext("Cylinder of hump %(letter)s") % {"letter": letter},
                required=False,
                coerce=int,
                empty_value=None,
                choices=[("", "–"), *((n, str(n)) for n in sorted(order))],
            )

    @property
    def humps(self) -> list[tuple[str, str, bool, forms.BoundField]]:
        """Letter, place, whether it is marked, and the field of the number, by hump."""
        marked = {str(value) for value in (self["weak"].value() or [])}
        return [
            (letter, str(place), str(place) in marked, self[f"number_{place}"])
            for place, letter in enumerate(self.letters)
        ]

    def clean(self) -> dict[str, Any]:
        """Ask for what a verdict needs before the solution is shown."""
        given = super().clean() or {}
        call = given.get("call")
        if call == Call.WEAK and not given.get("weak"):
            self.add_error("call", gettext("Mark the weak humps, or choose another answer."))
        if call == Call.EVEN and given.get("weak"):
            self.add_error(
                "call", gettext("A hump is marked weak: unmark it, or choose “Weak cylinders”.")
            )
        if call == Call.UNCLEAR and not given.get("remedy"):
            self.add_error("remedy", gettext("Say what has to change for the next recording."))
        if call in {Call.WEAK, Call.EVEN}:
            self._check_numbers(given)
        return given

    def _check_numbers(self, given: dict[str, Any]) -> None:
        numbers = self._numbers(given)
        if all(n is None for n in numbers) and not given.get("numbers_open"):
            self.add_error(
                "numbers_open",
                gettext(
                    "Say which cylinder one of the humps belongs to, or that the sync does not "
                    "settle it."
                ),
            )
        elif numbers_filled(numbers, self.order) is None:
            self.add_error(
                "numbers_open",
                gettext("These numbers do not follow the firing order; correct one of them."),
            )

    def _numbers(self, given: dict[str, Any]) -> tuple[int | None, ...]:
        return tuple(given.get(f"number_{place}") for place in range(len(self.letters)))

    @property
    def answer(self) -> Answer:
        """What was marked; what the verdict does not need is left out."""
        given = self.cleaned_data
        call = Call(given["call"])
        if call is Call.UNCLEAR:
            return Answer(call, remedy=Remedy(given["remedy"]).value)
        weak = tuple(sorted(int(place) for place in given["weak"])) if call is Call.WEAK else ()
        return Answer(call, weak, self._numbers(given), bool(given["numbers_open"]))


class CaseForm(forms.Form):
    """A case for somebody, or for everybody."""

    form_token = forms.UUIDField(widget=forms.HiddenInput, initial=uuid4)
    set_for = forms.ModelChoiceField(
        label=_("For"),
        queryset=Member.objects.none(),
        required=False,
        empty_label=_("everybody"),
    )
    level = forms.TypedChoiceField(
        label=_("Level"),
        coerce=int,
        choices=[],
        help_text=_("Decides the sync and the noise, and what is left to be drawn."),
    )
    engine = forms.ChoiceField(
        label=_("Engine"),
        required=False,
        choices=[("", _("drawn by level")), *((key, _(name)) for key, name in ENGINES.items())],
    )
    fault = forms.ChoiceField(
        label=_("Hidden fault"),
        required=False,
        choices=[("", _("drawn by level")), *((k.value, _(v)) for k, v in FAULT_LABELS.items())],
        help_text=_("Whoever marks the capture sees it only after they answered."),
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        people = cast("forms.ModelChoiceField[Any]", self.fields["set_for"])
        people.queryset = Member.objects.filter(shop=member.shop_id, active=True).select_related(
            "user"
        )
        cast("forms.ChoiceField", self.fields["level"]).choices = [
            (
                level.number,
                gettext("%(number)s: %(name)s")
                % {"number": level.number, "name": gettext(level.name)},
            )
            for level in LEVELS
        ]
