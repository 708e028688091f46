"""Forms about known-good captures and the list of them."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from engines.models import Engine
from shopdiag.people.models import Member
from traces.selectors.known_good import known_good_engines


class KeepForm(forms.Form):
    """Keeping a run as known good."""

    note = forms.CharField(
        label=_("How it is known to be good"),
        required=False,
        strip=True,
        max_length=200,
        help_text=_("Gauge readings, mileage, history."),
    )
    although_uneven = forms.BooleanField(
        label=_("Keep it although it is uneven or shows a fault: this engine is built that way."),
        required=False,
    )

    def __init__(self, *args: Any, uneven: bool, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        if not uneven:
            del self.fields["although_uneven"]


class KnownGoodFilter(forms.Form):
    """Narrows the list by engine."""

    engine = forms.ModelChoiceField(
        label=_("Engine"),
        queryset=Engine.objects.none(),
        required=False,
        empty_label=_("any engine"),
    )
    retired = forms.BooleanField(label=_("Show retired ones too"), required=False)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        cast("forms.ModelChoiceField[Any]", self.fields["engine"]).queryset = known_good_engines(
            member
        )
