"""Figures and limits of tests beyond compression, as programs send and read them."""

import pytest

from jobs.models import CylinderFinding, FigureLimit


@pytest.fixture
def findings(world):
    return f"/api/work-orders/{world.order.pk}/findings/"


@pytest.fixture
def limits(world):
    return f"/api/work-orders/{world.order.pk}/figure-limits/"


def test_figures_are_written_and_read_back(findings, world, cast, api_for):
    client = api_for(cast.mechanic)
    sent = {
        "test": "valves",
        "cylinder": 2,
        "outcome": "good",
        "figures": {"intake_lift_mm": 9.1, "intake_clearance_mm": 0.2},
    }
    made = client.post(findings, sent)
    assert made.status_code == 201
    assert made.json()["figures"] == sent["figures"]
    order = client.get(f"/api/work-orders/{world.order.pk}/").json()
    assert sent["figures"] in [finding["figures"] for finding in order["findings"]]


@pytest.mark.parametrize(
    "figures",
    [
        {"intake_lift_mm": "much"},
        {"intake_lift_mm": 900},
        {"drop_kpa": 60},
        {"intake_lift_mm": [9]},
        {"intake_lift_mm": True},
        {"\u0000": 1},
        [9.1],
        "9.1",
    ],
)
def test_figures_that_cannot_be_are_refused(findings, cast, api_for, figures):
    before = CylinderFinding.objects.count()
    sent = {"test": "valves", "cylinder": 2, "outcome": "good", "figures": figures}
    assert api_for(cast.mechanic).post(findings, sent).status_code == 400
    assert CylinderFinding.objects.count() == before


def test_limits_are_set_and_say_whose_they_are(limits, cast, api_for):
    client = api_for(cast.diagnostician)
    sent = {
        "test": "exhaust",
        "scope": "job",
        "limits": {"back_idle_kpa": {"most": 10.0}},
        "source": "Manual, page 9",
    }
    answer = client.post(limits, sent)
    assert answer.status_code == 200
    (row,) = [r for r in answer.json() if r["figure"] == "back_idle_kpa"]
    assert (row["most"], row["origin"], row["source"]) == (10.0, "job", "Manual, page 9")
    (other,) = [r for r in client.get(limits).json() if r["figure"] == "back_fast_kpa"]
    assert (other["most"], other["origin"]) == (20.7, "usual")


@pytest.mark.parametrize(
    "given",
    [
        {"limits": {"back_idle_kpa": {"most": "ten"}}},
        {"limits": {"back_idle_kpa": {"most": True}}},
        {"limits": {"back_idle_kpa": 10}},
        {"limits": {"back_idle_kpa": {"least": 9, "usual": 10}}},
        {"limits": [1]},
        {"scope": "usual"},
        {"test": "gauge_dry"},
        {"source": ""},
        {"extra": 1},
    ],
)
def test_limits_that_cannot_be_are_refused(limits, cast, api_for, given):
    sent = {
        "test": "exhaust",
        "scope": "job",
        "limits": {"back_idle_kpa": {"most": 10.0}},
        "source": "Manual, page 9",
    }
    assert api_for(cast.diagnostician).post(limits, sent | given).status_code == 400
    assert not FigureLimit.objects.exists()
