"""The figures of single tests that a finding asks for beside gauge and leak."""

from typing import TYPE_CHECKING

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.core.finding_figures import RANGES
from jobs.forms.fields import MeasuredField

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

_NEGATIVE = _("A gauge pressure cannot be negative; check the figure.")
PRESSURES = ("first_puff", "pressure", "supply", "idle", "snap")
"""Fields in the shop's unit; the figure of each is named with `_kpa` behind it."""


def _pressure(label: "StrOrPromise", help_text: "StrOrPromise" = "") -> MeasuredField:
    return MeasuredField(
        label=label,
        required=False,
        min_value=0,
        help_text=help_text,
        error_messages={"min_value": _NEGATIVE},
    )


def _volume(
    name: str, label: "StrOrPromise", unit: str, help_text: "StrOrPromise"
) -> MeasuredField:
    least, most = RANGES[name]
    return MeasuredField(
        label=label,
        unit=unit,
        required=False,
        min_value=least,
        max_value=most,
        help_text=help_text,
    )


def figure_of(field: str) -> str:
    """Return the name of the figure that a field holds."""
    return f"{field}_kpa" if field in PRESSURES else field


class SpecialFigures(forms.Form):
    """Oil of a wet test, how a leak-down was done, running compression."""

    oil_ml = _volume(
        "oil_ml",
        _("Oil put in"),
        "ml",
        _("About 1 % of the cylinder's swept volume; the same in a good cylinder as control."),
    )
    swept_ml = _volume(
        "swept_ml", _("Swept volume of the cylinder"), "ml", _("Like 500 for a 2.0 litre four.")
    )
    supply = _pressure(_("Supply pressure"))
    orifice_mm = _volume(
        "orifice_mm",
        _("Orifice of the tester"),
        "mm",
        _(
            "The per cent hang on it: compare within one tester. FAA AC 43.13-1B ch. 8 (aircraft): "
            "0.040 in, 1.0 mm, to 5.00 in bore."
        ),
    )
    at_tdc = forms.BooleanField(
        label=_(
            "At top dead centre of the compression stroke: both valves closed, approached from "
            "both sides, crank held"
        ),
        required=False,
    )
    is_warm = forms.TypedChoiceField(
        label=_("Engine"),
        choices=[("", _("not noted")), ("False", _("cold")), ("True", _("warm"))],
        coerce=lambda answer: answer == "True",
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )
    idle = _pressure(
        _("Running, at idle"), _("Injector unplugged and coil grounded on this cylinder only.")
    )
    snap = _pressure(_("Running, on a snap of the throttle"))

    def clean_at_tdc(self) -> bool | None:
        """A box that is not ticked was not noted."""
        return self.cleaned_data["at_tdc"] or None
