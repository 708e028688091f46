"""Forms for engines: the list's filter, and a shop's own engine."""

import json
from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.firing import FiringAngleError, FiringOrder, FiringOrderError
from engines.core.fitted import COILS, INJECTION, fitted_refusals
from engines.core.geometry import EngineGeometry
from engines.core.layouts import LAYOUT_CHOICES, Layout, LayoutError, layout_of
from engines.core.positions import (
    NUMBERING_WORDS,
    Numbering,
    PositionError,
    Positions,
    numbering_of,
    places_by_numbering,
    read_places,
    write_places,
)
from engines.models import Engine
from engines.services import EngineInput
from shopdiag.people.versioned import Conflict, Difference

TYPED = "typed"
TYPED_NUMBERING = _("Typed in by the shop, place by place: confirm on the engine.")


class EngineFilter(forms.Form):
    """Narrows the list by words and by the number of cylinders."""

    q = forms.CharField(label=_("Name or firing order"), required=False, max_length=80, strip=True)
    cylinders = forms.TypedChoiceField(
        label=_("Cylinders"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", _("any number"))],
    )
    retired = forms.BooleanField(label=_("Show retired ones of ours"), required=False)

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        counts: Sequence[int],
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        field = cast("forms.TypedChoiceField", self.fields["cylinders"])
        field.choices = [("", gettext("any number")), *((count, str(count)) for count in counts)]


class EngineForm(forms.Form):
    """A shop's own engine."""

    name = forms.CharField(
        label=_("Name"),
        max_length=120,
        help_text=_("What your shop calls it, such as “2.0 inline four, transverse”."),
    )
    layout = forms.ChoiceField(
        label=_("Layout"),
        choices=[("", _("choose")), *((key, _(name)) for key, name in LAYOUT_CHOICES)],
    )
    firing_order = forms.CharField(
        label=_("Firing order"),
        max_length=60,
        help_text=_("Cylinder numbers as the manufacturer counts them, such as 1-3-4-2."),
    )
    tdc_angles = forms.CharField(
        label=_("Firing angles"),
        required=False,
        max_length=200,
        help_text=(
            _(
                "Only where the engine fires unevenly: crank degrees of each firing, counted from "
                "the first, such as 0, 150, 240, 390, 480, 630."
            )
        ),
    )
    numbering = forms.ChoiceField(
        label=_("How the cylinders are counted"),
        choices=[
            *((kind.value, _(words)) for kind, words in NUMBERING_WORDS.items()),
            (TYPED, _("Another way: type it below")),
        ],
        initial=Numbering.FRONT.value,
        widget=forms.RadioSelect,
        help_text=_("Manufacturers differ: look at the engine or in the manufacturer's data."),
    )
    bank_rows = forms.CharField(
        label=_("Cylinders of each bank, from the front"),
        required=False,
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=(
            _(
                "Only for “another way”: one line for each bank, such as A: 1 4 5 on the first "
                "and B: 2 3 6 on the second."
            )
        ),
    )
    fuel = forms.ChoiceField(
        label=_("Fuel"), choices=Engine.Fuel.choices, widget=forms.RadioSelect, initial="petrol"
    )
    coils = forms.ChoiceField(
        label=_("Coils"),
        required=False,
        choices=[("", _("Not known")), *((key, _(words)) for key, words in COILS.items())],
    )
    injection = forms.ChoiceField(
        label=_("Injection"),
        required=False,
        choices=[("", _("Not known")), *((key, _(words)) for key, words in INJECTION.items())],
        help_text=_("Coils and injection decide which tests the plan asks for."),
    )
    source = forms.CharField(
        label=_("Where the firing order comes from"),
        max_length=300,
        help_text=_("Handbook and page, or the marking on the engine."),
    )

    def __init__(self, *args: Any, engine: Engine | None = None, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        if engine is not None:
            kwargs["initial"] = engine_values(engine) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        self._given: EngineInput | None = None

    def clean(self) -> dict[str, Any]:
        """Check order, layout and places against each other, each error at its field."""
        data = super().clean() or {}
        order = self._order(data)
        layout = self._layout(data, order)
        if order is None or layout is None or "numbering" not in data:
            return data
        try:
            places = self._places(data, layout, len(order))
            EngineGeometry(data.get("name", ""), layout, order, places)
        except PositionError as error:
            self.add_error("bank_rows" if data["numbering"] == TYPED else "numbering", str(error))
            return data
        refused = fitted_refusals(
            data.get("fuel", ""), data.get("coils", ""), data.get("injection", "")
        )
        for field, words in refused.items():
            self.add_error(field, words)
        if not self.errors:
            self._given = EngineInput(
                name=data["name"],
                layout=layout.key,
                order=order,
                places=places,
                numbering=_numbering_note(data["numbering"], layout),
                fuel=data["fuel"],
                source=data["source"],
                coils=data["coils"],
                injection=data["injection"],
            )
        return data

    @property
    def given(self) -> EngineInput:
        """What a valid form holds."""
        if self._given is None:
            raise ValueError("Only a valid form holds an engine.")
        return self._given

    def _order(self, data: dict[str, Any]) -> FiringOrder | None:
        if "firing_order" not in data or "tdc_angles" not in data:
            return None
        try:
            return FiringOrder.parse(data["firing_order"], data["tdc_angles"])
        except FiringAngleError as error:
            self.add_error("tdc_angles", str(error))
        except FiringOrderError as error:
            self.add_error("firing_order", str(error))
        return None

    def _layout(self, data: dict[str, Any], order: FiringOrder | None) -> Layout | None:
        if "layout" not in data:
            return None
        layout = layout_of(data["layout"])
        if order is not None:
            try:
                layout.check_cylinders(len(order))
            except LayoutError as error:
                self.add_error("layout", str(error))
                return None
        return layout

    def _places(self, data: dict[str, Any], layout: Layout, cylinders: int) -> Positions:
        if data["numbering"] == TYPED:
            return read_places(data.get("bank_rows") or "", cylinders)
        return places_by_numbering(layout, cylinders, Numbering(data["numbering"]))


def _numbering_note(choice: str, layout: Layout) -> str:
    if choice == TYPED:
        return str(TYPED_NUMBERING)
    words = gettext(NUMBERING_WORDS[Numbering(choice)])
    if len(layout.banks) == 1:
        words = (
            gettext("From the flywheel end")
            if choice == Numbering.DRIVING_END.value
            else gettext("From the front")
        )
    return gettext("%(words)s: confirm on the engine.") % {"words": words}


def engine_values(engine: Engine) -> dict[str, str]:
    """Return an engine as the form's fields show it."""
    places = engine.places
    numbering = numbering_of(engine.layout_kind, places)
    angles = (
        "" if engine.order.is_even else ", ".join(f"{a:g}" for a in engine.order.tdc_angles_deg)
    )
    return {
        "name": engine.name_words,
        "layout": engine.layout,
        "firing_order": engine.firing_order,
        "tdc_angles": angles,
        "numbering": numbering.value if numbering else TYPED,
        "bank_rows": "" if numbering else write_places(places),
        "fuel": engine.fuel,
        "coils": engine.coils,
        "injection": engine.injection,
        "source": engine.source_words,
    }


class EngineEditForm(EngineForm):
    """The form of an engine that stands already; knows from which version it was filled."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    opened = forms.CharField(widget=forms.HiddenInput, required=False, max_length=4000)

    def __init__(self, *args: Any, engine: Engine, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, engine=engine, **kwargs)
        self.initial["version"] = engine.version
        self.initial["opened"] = json.dumps(engine_values(engine))

    def on_top_of(self, current: Engine) -> "tuple[EngineEditForm, Conflict]":
        """Return this input on top of what stands now, and where the two disagree."""
        opened = self._opened_values()
        data = {name: self.data.get(name, "") for name in self.fields}
        differences = []
        taken_over = []
        for name, theirs in engine_values(current).items():
            yours = str(self.cleaned_data.get(name, "")).replace("\r\n", "\n")
            if yours == theirs:
                continue
            difference = Difference(
                name=name,
                label=str(self.fields[name].label),
                theirs=self._shown(name, theirs),
                yours=self._shown(name, yours),
            )
            if opened.get(name) == yours:
                taken_over.append(difference)
                data[name] = theirs
            else:
                differences.append(difference)
        data["version"] = str(current.version)
        data["opened"] = json.dumps(engine_values(current))
        conflict = Conflict(
            current.changed_by, current.changed_at, tuple(differences), tuple(taken_over)
        )
        return EngineEditForm(data, engine=current), conflict

    @property
    def expected_version(self) -> int:
        """The version that was opened."""
        version: int = self.cleaned_data["version"]
        return version

    def _opened_values(self) -> dict[str, Any]:
        try:
            opened = json.loads(self.cleaned_data.get("opened") or "{}")
        except ValueError:
            return {}
        return opened if isinstance(opened, dict) else {}

    def _shown(self, name: str, value: str) -> str:
        choices = dict(getattr(self.fields[name], "choices", ()))
        return str(choices.get(value, value)) or "–"
