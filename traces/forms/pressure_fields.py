"""What a set-up asks about a pressure transducer in place of a plug."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from engines.core.firing import FiringOrder
from shopdiag.people.number_field import NumberField
from traces.core.proposal import PressureScale
from traces.core.setup import PRESSURE_UNITS, PressureSetup, SetupError

if TYPE_CHECKING:
    from traces.forms.setup import SetupForm

OTHER = "other"
NO_PRESSURE_SCALE = _("Choose the transducer's scale; its data sheet has it.")
_SCALES = (
    ("250", "250 kPa/V"),
    ("500", "500 kPa/V"),
    ("689.5", "689.5 kPa/V (100 psi/V)"),
    ("1000", "1000 kPa/V"),
    ("1379", "1379 kPa/V (200 psi/V)"),
    (OTHER, _("another transducer")),
)
PRESSURE_SCALES = tuple(scale for scale, _words in _SCALES if scale != OTHER)
MORE_FIELDS = ("compression_ratio", "zero_v", "air_kpa")
"""What narrows the intervals and need not be known."""


class PressureFields(forms.Form):
    """Where the transducer sits, its scale, and what narrows the intervals."""

    pressure_cylinder = forms.IntegerField(
        label=_("Cylinder with the transducer"),
        required=False,
        min_value=1,
        help_text=_(
            "The cylinder whose plug the transducer replaces. The recording does not tell."
        ),
        error_messages={
            "invalid": _("Type the cylinder's number, like 1."),
            "min_value": _("Cylinders count from 1; type the number of the cylinder."),
        },
    )
    pressure_scale = forms.ChoiceField(
        label=_("Transducer scale"),
        choices=_SCALES,
        widget=forms.RadioSelect,
        required=False,
        help_text=_("By its data sheet. Its offset is found in the recording."),
        error_messages={"invalid_choice": NO_PRESSURE_SCALE},
    )
    pressure_scale_typed = NumberField(
        label=_("Scale of another transducer"),
        required=False,
        help_text=_("In kPa per volt. 1 bar is 100 kPa, 1 psi is 6.895 kPa."),
        error_messages={"invalid": _("Type the scale as a number, like 2.5.")},
    )
    compression_ratio = NumberField(
        label=_("Compression ratio"),
        required=False,
        help_text=_("By the manufacturer's data. It narrows exponents and the intake's closing."),
        error_messages={"invalid": _("Type the compression ratio as a number, like 10.5.")},
    )
    zero_v = NumberField(
        label=_("Output at the pressure of the air"),
        required=False,
        help_text=_("Only where it was read off. Else a rest in the recording tells it."),
        error_messages={"invalid": _("Type the output as a number of volts, like 0.5.")},
    )
    air_kpa = NumberField(
        label=_("Pressure of the air"),
        required=False,
        help_text=_("Absolute, at the shop. 101.3 kPa is taken where this is empty."),
        error_messages={"invalid": _("Type the pressure as a number of kilopascals, like 98.")},
    )


def pressure_setup_of(
    form: "SetupForm", data: dict[str, Any], order: FiringOrder | None, unit: str
) -> PressureSetup | None:
    """Return what a filled form says of the transducer; None with an error at the field.

    Parameters
    ----------
    unit
        Of the channel to judge, lower case; a pressure needs no scale.
    """
    cylinder = data.get("pressure_cylinder")
    if cylinder is None:
        if "pressure_cylinder" not in form.errors:
            form.add_error(
                "pressure_cylinder", gettext("Say which cylinder the transducer sat in.")
            )
    elif order and cylinder not in order.sequence:
        form.add_error(
            "pressure_cylinder",
            gettext(
                "This engine has no cylinder %(cylinder)s: its firing order is %(order)s; "
                "choose one of those."
            )
            % {"cylinder": cylinder, "order": order},
        )
    kpa_per_v = None if unit in PRESSURE_UNITS else _scale(form, data)
    if form.errors or order is None:
        return None
    try:
        return PressureSetup(
            kpa_per_v=kpa_per_v,
            zero_v=data.get("zero_v"),
            compression_ratio=data.get("compression_ratio"),
            air_kpa=data.get("air_kpa"),
            cylinder=cylinder,
            cylinders=len(order),
        )
    except SetupError as error:
        form.add_error(None, str(error))
        return None


def _scale(form: "SetupForm", data: dict[str, Any]) -> float | None:
    choice, typed = data.get("pressure_scale"), data.get("pressure_scale_typed")
    if "pressure_scale" in form.errors or "pressure_scale_typed" in form.errors:
        return None
    if choice == OTHER or (not choice and typed is not None):
        if typed is not None and 1.0 <= typed <= 100_000.0:
            return float(typed)
        form.add_error(
            "pressure_scale_typed",
            gettext("Type the transducer's scale in kPa per volt, from 1 to 100000."),
        )
        return None
    if choice and typed is not None and typed != float(choice):
        form.add_error(
            "pressure_scale_typed",
            gettext("A scale is chosen above and another typed here: choose one of them."),
        )
        return None
    if choice:
        return float(choice)
    form.add_error("pressure_scale", NO_PRESSURE_SCALE)
    return None


def peak_words(scale: PressureScale | None) -> str:
    """Return the peak that a scale makes of this recording, and whether it is usual."""
    if scale is None or scale.peak_kpa is None:
        return ""
    peak = {"kpa": f"{scale.peak_kpa:.0f}"}
    if scale.is_usual:
        return gettext("peak %(kpa)s kPa, usual") % peak
    if scale.is_possible is False:
        return gettext("peak %(kpa)s kPa, unlikely") % peak
    return gettext("peak %(kpa)s kPa") % peak
