"""The form for the gauge limits of one job."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from jobs.core.gauge import RULES, GaugeRule, rule_of
from jobs.core.pressure import from_kpa, shown, to_kpa
from jobs.forms.fields import MeasuredField

_OWN_RULE = "own"
_KPA = {"least": (250.0, 4500.0), "spread": (25.0, 900.0)}
_DIESEL_KPA = {"least": (600.0, 4500.0), "spread": (40.0, 900.0)}
"""What a maker's limit can be: 690 to 1000 kPa at least and 100 apart for petrol, 2000 to 2400
and 300 for diesel engines are published. Where no fuel is known, both may be meant."""


class LimitsForm(forms.Form):
    """The gauge limits of one job: an example rule, or the maker's own figures."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    rule = forms.ChoiceField(label=_("Limits by"), widget=forms.RadioSelect)
    source = forms.CharField(
        label=_("Where the manufacturer's figures come from"),
        required=False,
        max_length=200,
        help_text=_("Manual, page or service text."),
    )
    lowest_percent = MeasuredField(
        label=_("Lowest at least, of the highest"),
        unit="%",
        required=False,
        min_value=40,
        max_value=100,
    )
    least = MeasuredField(label=_("None under"), required=False, min_value=0)
    spread = MeasuredField(label=_("At most apart"), required=False, min_value=0)

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - Django's signature
        rule: GaugeRule,
        unit: str,
        fuel: str = "",
        **kwargs: Any,  # noqa: ANN401 - Django's signature
    ) -> None:
        super().__init__(*args, **kwargs)
        self._unit = unit
        self._ranges = _DIESEL_KPA if fuel == "diesel" else _KPA
        field = cast("forms.ChoiceField", self.fields["rule"])
        plain = rule_of(rule.key)
        known = [plain] if plain and plain not in RULES else []
        field.choices = [
            (_OWN_RULE, gettext("The manufacturer's own figures, below")),
            *((r.key, f"{gettext(r.name)} ({gettext(r.source)})") for r in (*known, *RULES)),
        ]
        for name in ("least", "spread"):
            cast("MeasuredField", self.fields[name]).unit = unit
        own = rule_of(rule.key) is None
        self.initial = {
            "rule": _OWN_RULE if own else rule.key,
            **(self._own_figures(rule) if own else {}),
            **self.initial,
        }

    def _own_figures(self, rule: GaugeRule) -> dict[str, Any]:
        def in_unit(value_kpa: float | None) -> float | None:
            return None if value_kpa is None else round(from_kpa(value_kpa, self._unit), 2)

        return {
            "source": rule.source,
            "lowest_percent": rule.lowest_share and round(rule.lowest_share * 100, 1),
            "least": in_unit(rule.least_kpa),
            "spread": in_unit(rule.spread_kpa),
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("rule") == _OWN_RULE and not self.errors:
            if not data["source"].strip():
                self.add_error("source", gettext("Say where the manufacturer's figures come from."))
            if all(data[name] is None for name in ("lowest_percent", "least", "spread")):
                self.add_error(
                    "least", gettext("Enter at least one of the manufacturer's figures.")
                )
            for name, (least_kpa, most_kpa) in self._ranges.items():
                value = data[name]
                if value is not None and not least_kpa <= to_kpa(value, self._unit) <= most_kpa:
                    self.add_error(
                        name,
                        gettext(
                            "This lies between %(least_kpa)s and %(most_kpa)s; check the figure "
                            "and the unit."
                        )
                        % {
                            "least_kpa": shown(least_kpa, self._unit),
                            "most_kpa": shown(most_kpa, self._unit),
                        },
                    )
        return data

    @property
    def chosen(self) -> GaugeRule:
        """The rule as chosen or typed."""
        data = self.cleaned_data
        known = rule_of(data["rule"])
        if known:
            return known

        def kpa(name: str) -> float | None:
            return None if data[name] is None else to_kpa(data[name], self._unit)

        share = data["lowest_percent"]
        return GaugeRule(
            key=_OWN_RULE,
            name="The manufacturer's own figures",
            source=data["source"].strip(),
            lowest_share=None if share is None else share / 100,
            least_kpa=kpa("least"),
            spread_kpa=kpa("spread"),
        )
