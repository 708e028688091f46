"""How a shop is set up and changed."""

from decimal import Decimal
from typing import Any, cast
from zoneinfo import available_timezones

from django import forms
from django.utils.translation import gettext, gettext_lazy

from shopdiag.people.forms import NewPersonMixin
from shopdiag.people.models import Shop
from shopdiag.people.number_field import NumberField
from shopdiag.people.services import SHOP_FIELDS
from shopdiag.people.versioned import VersionedForm

_COMMON_ZONES = (
    *("UTC", "Europe/London", "Europe/Berlin", "Europe/Paris", "Europe/Madrid", "Europe/Rome"),
    *("Europe/Warsaw", "Europe/Athens", "Africa/Johannesburg", "Asia/Dubai", "Asia/Kolkata"),
    *("Asia/Singapore", "Asia/Tokyo", "Australia/Sydney", "Pacific/Auckland"),
    *("America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles"),
    *("America/Toronto", "America/Mexico_City", "America/Sao_Paulo"),
)


_REGIONS = (
    *("Africa", "America", "Antarctica", "Arctic", "Asia"),
    *("Atlantic", "Australia", "Europe", "Indian", "Pacific"),
)


def zone_choices(kept: str = "") -> list[tuple[str, list[tuple[str, str]]]]:
    """Return time zones in groups, those most shops need first; `kept` stays choosable."""
    known = available_timezones()
    groups = [(gettext("Often needed"), [z for z in _COMMON_ZONES if z in known])]
    groups += [(r, sorted(z for z in known if z.startswith(f"{r}/"))) for r in _REGIONS]
    if kept and not any(kept in names for _, names in groups):
        groups.insert(0, (gettext("As it is"), [kept]))
    return [
        (group, [(name, name.partition("/")[2].replace("_", " ") or name) for name in names])
        for group, names in groups
    ]


class FirstRunForm(NewPersonMixin):
    """The shop and its owner, when there is no shop yet."""

    shop_name = forms.CharField(label=gettext_lazy("Shop name"), max_length=120)
    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"), choices=zone_choices, initial="UTC"
    )
    pressure_unit = forms.ChoiceField(
        label=gettext_lazy("Pressure in"),
        choices=Shop.PressureUnit.choices,
        initial=Shop.PressureUnit.KPA,
        widget=forms.RadioSelect,
    )
    distance_unit = forms.ChoiceField(
        label=gettext_lazy("Distance in"),
        choices=Shop.DistanceUnit.choices,
        initial=Shop.DistanceUnit.KM,
        widget=forms.RadioSelect,
    )
    paper_size = forms.ChoiceField(
        label=gettext_lazy("Paper"),
        choices=Shop.PaperSize.choices,
        initial=Shop.PaperSize.A4,
        widget=forms.RadioSelect,
    )
    currency = forms.CharField(
        label=gettext_lazy("Amounts in"),
        max_length=3,
        initial="EUR",
        validators=Shop._meta.get_field("currency").validators,  # noqa: SLF001 - Django's own way
        help_text=gettext_lazy("Three letters, such as EUR, GBP or USD."),
        widget=forms.TextInput(
            attrs={"size": 4, "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )

    def clean_currency(self) -> str:
        """Take small letters too."""
        return str(self.cleaned_data["currency"]).upper()

    @property
    def about_shop(self) -> dict[str, Any]:
        """What was said of the shop beside its name."""
        names = ("time_zone", "pressure_unit", "distance_unit", "paper_size", "currency")
        return {name: self.cleaned_data[name] for name in names}

    field_order = ["shop_name", "time_zone", "name", "username", "password", "password_again"]


class ShopForm(VersionedForm):
    """Letterhead, units and limits of the shop."""

    time_zone = forms.ChoiceField(label=gettext_lazy("Time zone"), choices=zone_choices)
    hourly_rate = NumberField(
        label=gettext_lazy("An hour of labour"),
        required=False,
        min_value=0.01,
        max_value=999_999,
        help_text=gettext_lazy(
            "Time used then counts at this rate, with the parts, against the agreed amount. "
            "Leave it empty to count parts alone."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:  # noqa: ANN401 - Django's signature
        super().__init__(*args, **kwargs)
        zone = cast("forms.ChoiceField", self.fields["time_zone"])
        zone.choices = zone_choices(self.instance.time_zone)

    def clean_currency(self) -> str:
        """Take small letters too."""
        return str(self.cleaned_data["currency"]).upper()

    def clean_hourly_rate(self) -> Decimal | None:
        """Take what was typed to the cent."""
        rate = self.cleaned_data["hourly_rate"]
        return None if rate is None else Decimal(str(rate)).quantize(Decimal("0.01"))

    class Meta:
        model = Shop
        fields = SHOP_FIELDS
        field_classes = {
            "suspect_below": NumberField,
            "watch_below": NumberField,
            "bank_even_within": NumberField,
        }
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "phone": forms.TextInput(attrs={"type": "tel"}),
            "pressure_unit": forms.RadioSelect,
            "distance_unit": forms.RadioSelect,
            "paper_size": forms.RadioSelect,
            "decimal_sign": forms.RadioSelect,
            "currency": forms.TextInput(
                attrs={"size": 4, "autocapitalize": "characters", "spellcheck": "false"}
            ),
            "suspect_below": NumberField.widget,
            "watch_below": NumberField.widget,
            "bank_even_within": NumberField.widget,
            "altitude_m": forms.TextInput(attrs={"inputmode": "numeric", "size": 5}),
        }
        help_texts = {
            "currency": gettext_lazy(
                "Three letters, such as EUR, GBP or USD; an amount typed as a bare number "
                "gets it when it is saved."
            ),
            "suspect_below": gettext_lazy(
                "Relative compression under this is called suspect; "
                "1.00 is the mean of the good cylinders. 0.80 unless the shop knows better."
            ),
            "watch_below": gettext_lazy("From there up to this it is called watch; 0.88 at first."),
            "bank_even_within": gettext_lazy(
                "Difference of the banks' means from which one of them is called "
                "weaker, as a share of a good cylinder: 0.055 is 5.5 points. Banks of up to four "
                "cylinders that fire evenly are called from a little less."
            ),
            "paper_size": gettext_lazy("Of work orders and other papers saved as PDF."),
            "address": gettext_lazy("As it stands on printed sheets."),
            "altitude_m": gettext_lazy(
                "Least gauge values are lowered for it, about 1 % per 75 to 100 m."
            ),
        }
