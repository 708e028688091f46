"""What a person may change about a run by hand: a form for each change."""

import math
from typing import TYPE_CHECKING, Any, Literal, cast
from uuid import uuid4

from django import forms
from django.utils.translation import gettext, gettext_lazy

from engines.models import Engine
from shopdiag.people.models import Member
from shopdiag.people.number_field import NumberField
from traces.core.setup import Changed, ManualMarks, MarkedEvent, SetupError, SpanS, span_words
from traces.core.setup import edit_changes as hand_changes
from traces.forms.setup_fields import EngineField
from traces.selectors.hand import HandState, span_value

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

_MOST_PLACES = 15
"""An engine of sixteen fires at as many places after the first."""

_TIME_ERRORS = {
    "required": gettext_lazy("Type the time in seconds, or set it with a cursor in the curve."),
    "invalid": gettext_lazy("Type the time as a number of seconds, like 1.25."),
}


def _token() -> forms.UUIDField:
    damaged = gettext_lazy("This page is damaged; open it anew and change it again.")
    return forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"required": damaged, "invalid": damaged}
    )


class ManualEditForm(forms.Form):
    """One change; `changed` makes the new set-up of a valid form."""

    do = ""
    """The change's name, which the form sends."""

    form_token = _token()

    def __init__(
        self,
        data: Any = None,  # noqa: ANN401 - Django's signature
        *,
        member: Member,
        state: HandState,
    ) -> None:
        super().__init__(data, auto_id=f"hand-{self.do}-%s")
        self.member = member
        self.state = state
        self.initial.setdefault("form_token", uuid4())
        self.offer()

    def offer(self) -> None:
        """Fill in what is so now."""

    @property
    def engine(self) -> Engine | None:
        """Another engine that was chosen."""
        return None

    def changed(self) -> Changed:
        """Return the new set-up.

        Raises
        ------
        SetupError
            If it cannot be, or changes nothing.
        """
        raise NotImplementedError

    def _time(self, name: str) -> float:
        return float(self.cleaned_data[name])

    def _field(self, name: str) -> Any:  # noqa: ANN401 - choices are no part of Field
        return self.fields[name]


class ShiftOnForm(ManualEditForm):
    """Labels one place on, or as many as a tapped hump asks for; negative: back."""

    do = "on"
    places = forms.IntegerField(
        required=False, min_value=-_MOST_PLACES, max_value=_MOST_PLACES, widget=forms.HiddenInput
    )

    def changed(self) -> Changed:
        places = self.cleaned_data["places"] or 1
        return hand_changes.labels_shifted(self.state.analysis, places)


class ShiftBackForm(ManualEditForm):
    """Labels one place back."""

    do = "back"

    def changed(self) -> Changed:
        return hand_changes.labels_shifted(self.state.analysis, -1)


def _seconds(label: "StrOrPromise", cursor: str) -> NumberField:
    field = NumberField(
        label=label,
        error_messages=_TIME_ERRORS,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "data-cursor": cursor}),
    )
    field.unit = "s"  # type: ignore[attr-defined] # the field's template shows it
    return field


class SpanForm(ManualEditForm):
    """Judge one stretch only."""

    do = "span"
    from_s = _seconds(gettext_lazy("From"), "a")
    to_s = _seconds(gettext_lazy("To"), "b")

    def offer(self) -> None:
        if self.state.analysis.hand.span_s:
            self.initial["from_s"], self.initial["to_s"] = self.state.analysis.hand.span_s

    def clean(self) -> dict[str, Any]:
        """Refuse a stretch that is none."""
        data = super().clean() or {}
        from_s, to_s = data.get("from_s"), data.get("to_s")
        if from_s is not None and to_s is not None and not from_s < to_s:
            self.add_error("to_s", gettext("A stretch must end after it begins."))
        return data

    def changed(self) -> Changed:
        return hand_changes.only_judged(
            self.state.analysis, (self._time("from_s"), self._time("to_s"))
        )


class WholeForm(ManualEditForm):
    """Judge all of the crank again."""

    do = "whole"

    def changed(self) -> Changed:
        return hand_changes.all_judged(self.state.analysis)


class _SpansForm(ManualEditForm):
    spans = forms.MultipleChoiceField(
        label=gettext_lazy("Cycles"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": gettext_lazy("Tick at least one."),
            "invalid_choice": gettext_lazy(
                "That cycle is not in this run any more; tick those shown."
            ),
        },
    )

    def _spans(self) -> list[SpanS]:
        return [_span(value) for value in self.cleaned_data["spans"]]


class LeaveOutForm(_SpansForm):
    """Leave out engine cycles."""

    do = "leave-out"

    def offer(self) -> None:
        self._field("spans").choices = [(c.value, c.words) for c in self.state.cycles]

    def changed(self) -> Changed:
        return hand_changes.cycles_left_out(self.state.analysis, self._spans())


class TakeBackForm(_SpansForm):
    """Let cycles count again that were left out."""

    do = "take-back"

    def offer(self) -> None:
        self._field("spans").label = gettext("Left out")
        self._field("spans").choices = [
            (span_value(s), span_words(s)) for s in self.state.analysis.hand.left_out_s
        ]

    def changed(self) -> Changed:
        return hand_changes.cycles_taken_back(self.state.analysis, self._spans())


class MarkForm(ManualEditForm):
    """Mark an event of a known cylinder."""

    do = "mark"
    at_s = _seconds(gettext_lazy("At"), "a")
    cylinder = forms.TypedChoiceField(
        label=gettext_lazy("Of cylinder"),
        coerce=int,
        error_messages={
            "required": gettext_lazy("Say whose event it is."),
            "invalid_choice": gettext_lazy(
                "This engine has no such cylinder; choose one of those shown."
            ),
        },
    )
    event = forms.ChoiceField(
        label=gettext_lazy("What came there"),
        choices=[
            ("ignition", gettext_lazy("Ignition")),
            ("injector", gettext_lazy("Injection")),
            ("cam", gettext_lazy("Edge of the cam sensor")),
            ("tdc", gettext_lazy("Firing top dead centre")),
        ],
    )
    every_deg = forms.TypedChoiceField(
        label=gettext_lazy("The event repeats every"),
        choices=[
            ("720", gettext_lazy("Two turns (720°)")),
            ("360", gettext_lazy("One turn (360°)")),
        ],
        coerce=int,
        initial="720",
    )

    def offer(self) -> None:
        sequence = self.state.analysis.firing_order.sequence
        numbers = [(str(c), str(c)) for c in sorted(sequence)]
        self._field("cylinder").choices = [("", gettext("choose")), *numbers]

    def changed(self) -> Changed:
        data = self.cleaned_data
        marks = ManualMarks(
            (self._time("at_s"),),
            data["cylinder"],
            cast("MarkedEvent", data["event"]),
            cast("Literal[360, 720]", data["every_deg"]),
        )
        return hand_changes.marked(self.state.analysis, marks)


class UnmarkForm(ManualEditForm):
    """Take the marks away."""

    do = "unmark"

    def changed(self) -> Changed:
        return hand_changes.unmarked(self.state.analysis)


class ScaleForm(ManualEditForm):
    """Another scale of the clamp."""

    do = "scale"
    mv_per_a = NumberField(
        label=gettext_lazy("Clamp scale"),
        min_value=0.01,
        max_value=10_000,
        error_messages={
            "required": gettext_lazy("Type the scale in mV/A; read it off the clamp's switch."),
            "invalid": gettext_lazy("Type the scale as a number, like 10."),
            "min_value": gettext_lazy("The scale lies between 0.01 and 10000 mV/A."),
            "max_value": gettext_lazy("The scale lies between 0.01 and 10000 mV/A."),
        },
    )

    def offer(self) -> None:
        self._field("mv_per_a").unit = "mV/A"
        self.initial["mv_per_a"] = f"{self.state.analysis.mv_per_a:g}"

    def changed(self) -> Changed:
        return hand_changes.rescaled(self.state.analysis, self._time("mv_per_a"))


class TurnForm(ManualEditForm):
    """Turn the sign of the current."""

    do = "turn"

    def changed(self) -> Changed:
        return hand_changes.turned_round(self.state.analysis, inverted_now=self.state.inverted)


class OtherEngineForm(ManualEditForm):
    """Another engine."""

    do = "engine"
    engine_choice = EngineField(
        label=gettext_lazy("Engine"),
        queryset=Engine.objects.none(),
        empty_label=gettext_lazy("choose"),
        help_text=gettext_lazy(
            "Its firing order and angles, its fuel unless another was chosen; labels are "
            "moved no more then."
        ),
        error_messages={
            "required": gettext_lazy("Choose the engine."),
            "invalid_choice": gettext_lazy(
                "That engine is not in your shop's list; choose another."
            ),
        },
    )

    def offer(self) -> None:
        self._field("engine_choice").queryset = Engine.objects.seen_by(self.member).in_use()

    @property
    def engine(self) -> Engine | None:
        return cast("Engine | None", self.cleaned_data.get("engine_choice"))

    def changed(self) -> Changed:
        engine = self.cleaned_data["engine_choice"]
        fuel = self.state.own_fuel or engine.fuel
        return hand_changes.of_engine(self.state.analysis, engine.order, fuel, engine.name_words)


class NoSyncForm(ManualEditForm):
    """Judge without the recorded sync."""

    do = "no-sync"

    def changed(self) -> Changed:
        return hand_changes.without_sync(self.state.analysis)


class SyncForm(ManualEditForm):
    """Use the recorded sync again."""

    do = "sync"

    def changed(self) -> Changed:
        if self.state.other_sync is None:
            raise SetupError(
                gettext("No earlier set-up had a sync; choose its channel in a new set-up.")
            )
        return hand_changes.with_sync(self.state.analysis, self.state.other_sync)


MANUAL_EDIT_FORMS: dict[str, type[ManualEditForm]] = {
    form.do: form
    for form in (
        ShiftOnForm,
        ShiftBackForm,
        SpanForm,
        WholeForm,
        LeaveOutForm,
        TakeBackForm,
        MarkForm,
        UnmarkForm,
        ScaleForm,
        TurnForm,
        OtherEngineForm,
        NoSyncForm,
        SyncForm,
    )
}


class StepForm(forms.Form):
    """Undo the last change, or make it again."""

    form_token = _token()

    def __init__(self, do: str, data: Any = None) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(data, auto_id=f"hand-{do}-%s")
        self.do = do
        self.initial.setdefault("form_token", uuid4())


def _span(value: str) -> SpanS:
    from_s, _, to_s = value.partition(":")
    span_s = float(from_s), float(to_s)
    if not all(map(math.isfinite, span_s)):
        raise SetupError(gettext("A stretch has a from and a to in seconds."))
    return span_s
