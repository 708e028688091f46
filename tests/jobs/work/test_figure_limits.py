"""Limits of tests' figures: whose wins, who sets them, what they do to a proposal."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.cautions import cautions_of_test
from jobs.core.test_figures import TESTS, Limit, Origin
from jobs.models import FigureLimit, TimelineEvent
from jobs.selectors.figure_limits import limit_lines_of, standing_in
from jobs.selectors.typed_findings import limits_of
from jobs.services.figure_limits import figure_limits_set
from jobs.services.findings import NewFinding, finding_add
from tests.jobs.work.kept_order import cast, kept, order, taken, visit

__all__ = ["cast", "kept", "order", "taken", "visit"]

EXHAUST = TESTS["exhaust"]


@pytest.fixture
def keep(order, cast):
    def setting(scope, most, token=None):
        return figure_limits_set(
            order=order,
            member=cast.owner,
            test="exhaust",
            scope=Origin(scope),
            limits={"back_idle_kpa": Limit(most=most)},
            source="Manual, page 9",
            form_token=token or uuid4(),
        )

    return setting


def applied(order, figure="back_idle_kpa"):
    limit = limits_of(order, EXHAUST)[figure]
    return limit.most, limit.origin.value


def test_the_job_wins_then_the_engine_then_the_shop_then_what_is_usual(order, keep):
    assert applied(order) == (8.6, "usual")
    for scope, most in (("shop", 9.0), ("engine", 10.0), ("job", 11.0)):
        keep(scope, most)
        assert applied(order) == (most, scope)
    # taken back in the same turn
    for scope, left in (
        ("job", (10.0, "engine")),
        ("engine", (9.0, "shop")),
        ("shop", (8.6, "usual")),
    ):
        keep(scope, None)
        assert applied(order) == left


def test_limits_of_another_shop_do_not_count(order, cast):
    line = {"test": "exhaust", "figure": "back_idle_kpa", "most": 30.0, "source": "x"}
    FigureLimit.objects.create(shop=cast.other_shop, set_by=cast.other_owner, **line)
    assert applied(order) == (8.6, "usual")


def test_a_limit_decides_what_is_proposed_and_asked(order, keep, cast):
    bad = NewFinding(None, "exhaust", "good", figures={"back_idle_kpa": 10.0})
    with pytest.raises(ValidationError):
        finding_add(order=order, member=cast.mechanic, found=bad)
    keep("job", 12.0)
    assert finding_add(order=order, member=cast.mechanic, found=bad).outcome == "good"


def test_the_same_token_and_the_same_words_set_nothing_more(order, keep):
    token = uuid4()
    assert len(keep("job", 11.0, token)) == 1
    assert keep("job", 12.0, token) == []
    assert keep("job", 11.0) == []
    assert FigureLimit.objects.count() == 1
    assert TimelineEvent.objects.filter(kind="work_order", data__scope="job").count() == 1


REFUSED = [
    ("exhaust", "back_idle_kpa", Limit(most=9.0), " ", "source"),
    ("exhaust", "back_idle_kpa", Limit(most=9000.0), "Manual", "back_idle_kpa_most"),
    ("exhaust", "back_idle_kpa", Limit(9.0, 8.0), "Manual", "back_idle_kpa_least"),
    ("exhaust", "back_idle_kpa", Limit(apart=0.0), "Manual", "back_idle_kpa_apart"),
    ("exhaust", "rest_kpa", Limit(most=9.0), "Manual", "rest_kpa"),
    ("plugs", "plug_look", Limit(most=9.0), "Manual", "plug_look"),
    ("gauge_dry", "pressure_kpa", Limit(most=9.0), "Manual", "test"),
]


@pytest.mark.parametrize("asked", REFUSED)
def test_what_cannot_be_is_refused_beside_its_field(order, cast, asked):
    test, figure, limit, source, field = asked
    with pytest.raises(ValidationError) as error:
        figure_limits_set(
            order=order,
            member=cast.owner,
            test=test,
            scope=Origin.JOB,
            limits={figure: limit},
            source=source,
        )
    assert set(error.value.message_dict) == {field}
    assert not FigureLimit.objects.exists()


def test_the_page_takes_the_shops_unit_and_keeps_what_was_typed(order, cast, client_for):
    cast.shop.pressure_unit = "psi"
    cast.shop.save()
    address = reverse("jobs:figure-limits", args=[order.pk]) + "?test=exhaust&scope=engine"
    browser = client_for(cast.diagnostician)
    bad = {"form_token": str(uuid4()), "back_idle_kpa_most": "2,5", "source": ""}
    answer = browser.post(address, bad)
    assert answer.status_code == 422
    assert answer.context["form"]["back_idle_kpa_most"].value() == "2,5"
    assert browser.post(address, bad | {"source": "Manual, page 9"}).status_code == 302
    assert applied(order) == (pytest.approx(2.5 * 6.894757), "engine")
    # saved again as the page shows it, nothing changes to the last digit
    page = browser.get(address)
    shown = {f.html_name: f.value() for _, fields in page.context["form"].rows for f in fields}
    again = {name: "" if value is None else value for name, value in shown.items()}
    again |= {"form_token": str(uuid4()), "source": "Manual, page 9"}
    assert browser.post(address, again).status_code == 302
    assert FigureLimit.objects.count() == 1


def test_there_is_no_page_for_what_has_no_limits(order, cast, client_for):
    browser = client_for(cast.owner)
    address = reverse("jobs:figure-limits", args=[order.pk])
    for asked in ("?test=gauge_dry", "?test=coil&scope=usual", "?test=nothing"):
        assert browser.get(address + asked).status_code == 404


def test_each_figure_says_what_it_is_held_against_and_whose_that_is(order, keep):
    keep("job", 11.0)
    lines = {line.figure: line for line in limit_lines_of(order, EXHAUST)}
    assert set(lines) == {"back_idle_kpa", "back_fast_kpa"}
    assert lines["back_idle_kpa"].source == "Manual, page 9"
    assert set(standing_in(order, "exhaust", Origin.JOB)) == {"back_idle_kpa"}
    assert {line.figure for line in limit_lines_of(order, TESTS["coil"])} == {
        "primary_ohm",
        "secondary_kohm",
        "primary_peak_a",
        "spark_ms",
    }


def test_every_typed_test_has_its_cautions():
    for test in TESTS:
        assert cautions_of_test(test, "petrol"), test
    # a diesel has no ignition to touch
    assert not set(cautions_of_test("coil", "petrol")) <= set(cautions_of_test("coil", "diesel"))
    assert set(cautions_of_test("fuel_press", "petrol")).isdisjoint(
        cautions_of_test("fuel_press", "diesel")
    )
