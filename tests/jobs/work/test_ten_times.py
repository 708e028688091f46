"""A usual figure is taken; ten times as much and a tenth of it are asked back or refused.

Odometer, minutes, counts and amounts are in `test_asked_back.py`.
"""

import pytest
from django.core.exceptions import ValidationError

from jobs.core.gauge import default_rule
from jobs.forms.limits import LimitsForm
from jobs.forms.triage import TriageForm
from jobs.models import CylinderFinding, Triage, Visit
from jobs.services.findings import NewFinding, finding_add
from shopdiag.people.models import Shop
from tests.jobs.work.kept_order import cast, kept, order, taken, visit

__all__ = ["cast", "kept", "order", "taken", "visit"]

# test, outcome, figure, a usual value, and what stands beside it
FIGURES = [
    ("gauge_dry", "good", "pressure_kpa", 1190.0, {}),
    ("gauge_dry", "good", "first_puff_kpa", 550.0, {"pressure_kpa": 1190.0}),
    ("gauge_wet", "good", "pressure_kpa", 1300.0, {"oil_ml": 5.0, "swept_ml": 500.0}),
    ("gauge_wet", "good", "oil_ml", 5.0, {"pressure_kpa": 1300.0}),
    ("gauge_wet", "good", "swept_ml", 500.0, {"pressure_kpa": 1300.0}),
    ("leak_down", "good", "leak_percent", 8.0, {}),
    ("leak_down", "bad", "leak_percent", 45.0, {"heard_at": "exhaust"}),
    ("leak_down", "good", "supply_kpa", 600.0, {"leak_percent": 8.0}),
    ("leak_down", "good", "orifice_mm", 1.0, {"leak_percent": 8.0}),
    ("running", "good", "idle_kpa", 420.0, {}),
    ("running", "good", "snap_kpa", 900.0, {}),
]
ONLY_HIGH = {("leak_down", "good", "leak_percent")}
"""A good cylinder may lose next to nothing."""
FACTORS = [10.0, 0.1]


@pytest.fixture
def record(order, cast):
    def one(test, outcome, figures):
        found = NewFinding(3, test, outcome, **figures)
        return finding_add(order=order, member=cast.mechanic, found=found)

    return one


@pytest.mark.parametrize("case", FIGURES)
def test_figures_of_findings(record, case):
    test, outcome, figure, usual, beside = case
    for factor in FACTORS:
        if factor < 1 and (test, outcome, figure) in ONLY_HIGH:
            continue
        with pytest.raises(ValidationError):
            record(test, outcome, {figure: usual * factor, **beside})
    assert not CylinderFinding.objects.exists()
    assert record(test, outcome, {figure: usual, **beside})


@pytest.mark.parametrize("figures", [{"leak_percent": 70.0}, {"leak_percent": 21.0}])
def test_a_leak_called_good_is_asked_back_and_kept_when_confirmed(order, cast, record, figures):
    with pytest.raises(ValidationError) as error:
        record("leak_down", "good", figures)
    assert set(error.value.message_dict) == {"confirmed"}
    found = NewFinding(3, "leak_down", "good", confirmed=True, **figures)
    assert finding_add(order=order, member=cast.mechanic, found=found)


@pytest.mark.parametrize("fuel", ["", "petrol", "diesel"])
@pytest.mark.parametrize("name", ["lowest_percent", "least", "spread"])
def test_limits(fuel, name):
    usual = {
        "lowest_percent": 75.0,
        "least": 2200.0 if fuel == "diesel" else 1000.0,
        "spread": 300.0 if fuel == "diesel" else 150.0,
    }[name]

    def valid(value: float) -> bool:
        data = {"version": 1, "rule": "own", "source": "Manual, page 9", name: str(value)}
        return LimitsForm(
            data, rule=default_rule(fuel or "petrol"), unit="kPa", fuel=fuel
        ).is_valid()

    assert valid(usual)
    assert not valid(usual * 10)
    assert not valid(usual / 10)


@pytest.mark.parametrize("usual", [6.3, 12.6, 25.2])
def test_the_battery_at_rest(usual):
    def valid(value: float) -> bool:
        form = TriageForm(
            {"version": 1, "opened": "{}", "battery_v": f"{value:.3f}"},
            instance=Triage(),
            visit=Visit(shop=Shop()),
        )
        return form.is_valid()

    assert valid(usual)
    assert not valid(usual * 10)
    assert not valid(usual / 10)
