"""Limits of tests' figures: whose wins, who sets them, what they do to a proposal."""

from dataclasses import replace
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from jobs.core.cautions import cautions_of_test
from jobs.core.measured_tests import TESTS, Limit, Origin
from jobs.core.wanted_test_texts import BACK_PRESSURE, RUNNING
from jobs.models import FigureLimit, TimelineEvent
from jobs.selectors.figure_limits import limit_lines_of, standing_in
from jobs.selectors.figure_limits import tests_with_limits as limits_offered
from jobs.selectors.limit_place import LimitPlace, place_of
from jobs.selectors.limits_in_tests import with_limits
from jobs.selectors.plan import plan_of
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
            place=place_of(order),
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


def test_the_plan_reads_a_figure_by_the_limit_in_force(order, cast):
    figures = {"rest_kpa": 350.0, "load_kpa": 310.0}
    found = NewFinding(None, "fuel_press", "bad", figures=figures)
    finding_add(order=order, member=cast.mechanic, found=found)
    assert fuel_supply_of(order) == "shown"
    figure_limits_set(
        place=place_of(order),
        member=cast.owner,
        test="fuel_press",
        scope=Origin.JOB,
        limits={"load_fall_percent": Limit(most=15.0)},
        source="Manual, page 9",
    )
    assert fuel_supply_of(order) != "shown"


def fuel_supply_of(order):
    causes = plan_of(order.visit).plan.causes
    return next(c.standing for c in causes if c.key == "fuel_supply")


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
    ("injector", "drop_kpa", Limit(apart=0.0), "Manual", "drop_kpa_apart"),
    ("phaser", "intake_cam_rest_deg", Limit(apart=3.0), "Manual", "intake_cam_rest_deg_apart"),
    ("exhaust", "back_idle_kpa", Limit(apart=5.0), "Manual", "back_idle_kpa_apart"),
    ("exhaust", "rest_kpa", Limit(most=9.0), "Manual", "rest_kpa"),
    ("plugs", "plug_look", Limit(most=9.0), "Manual", "plug_look"),
    ("gauge_dry", "pressure_kpa", Limit(most=9.0), "Manual", "test"),
]


@pytest.mark.parametrize("asked", REFUSED)
def test_what_cannot_be_is_refused_beside_its_field(order, cast, asked):
    test, figure, limit, source, field = asked
    with pytest.raises(ValidationError) as error:
        figure_limits_set(
            place=place_of(order),
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


def page_of(browser, address):
    """Return what the page sends where nothing is typed."""
    form = browser.get(address).context["form"]
    sent = {field.html_name: field.value() for field in form}
    return {name: "" if value is None else str(value) for name, value in sent.items()}


def sources(order, scope=Origin.SHOP):
    return {
        figure: limit.source
        for figure, limit in standing_in(place_of(order), "exhaust", scope).items()
    }


@pytest.fixture
def shops_page(order):
    return reverse("jobs:figure-limits", args=[order.pk]) + "?test=exhaust&scope=shop"


def test_a_source_goes_with_the_figures_that_changed(order, cast, client_for, shops_page):
    browser = client_for(cast.owner)
    first = page_of(browser, shops_page)
    first |= {"back_idle_kpa_most": "9", "back_fast_kpa_most": "21", "source": "Manual, page 9"}
    assert browser.post(shops_page, first).status_code == 302
    second = page_of(browser, shops_page) | {"back_fast_kpa_most": "22", "source": "Bulletin 4"}
    assert browser.post(shops_page, second).status_code == 302
    assert sources(order) == {"back_idle_kpa": "Manual, page 9", "back_fast_kpa": "Bulletin 4"}
    assert FigureLimit.objects.count() == 3
    # a source alone corrects that of the figures shown
    third = page_of(browser, shops_page)
    assert third["source"] == ""
    assert browser.post(shops_page, third | {"source": "Manual, page 10"}).status_code == 302
    assert set(sources(order).values()) == {"Manual, page 10"}


def test_an_older_page_takes_back_nothing_that_was_set_meanwhile(
    order, cast, client_for, shops_page
):
    one, other = client_for(cast.owner), client_for(cast.owner)
    old = page_of(one, shops_page)
    new = page_of(other, shops_page) | {"back_fast_kpa_most": "22", "source": "Bulletin 4"}
    assert other.post(shops_page, new).status_code == 302
    old |= {"back_idle_kpa_most": "9", "source": "Manual, page 9"}
    assert one.post(shops_page, old).status_code == 302
    stands = standing_in(place_of(order), "exhaust", Origin.SHOP)
    assert {f: limit.most for f, limit in stands.items()} == {
        "back_idle_kpa": 9.0,
        "back_fast_kpa": 22.0,
    }
    assert sources(order)["back_fast_kpa"] == "Bulletin 4"


def test_a_limit_that_moved_is_told_and_replaced_by_the_next_save(
    order, cast, client_for, shops_page
):
    one, other = client_for(cast.owner), client_for(cast.owner)
    old = page_of(one, shops_page)
    new = page_of(other, shops_page) | {"source": "Bulletin 4"}
    new |= {"back_idle_kpa_most": "10", "back_fast_kpa_most": "22"}
    assert other.post(shops_page, new).status_code == 302
    old |= {"back_idle_kpa_most": "9", "source": "Manual, page 9"}
    refused = one.post(shops_page, old)
    assert refused.status_code == 422
    assert set(refused.context["form"].errors) == {"back_idle_kpa_most"}
    assert applied(order) == (10.0, "shop")
    form = refused.context["form"]
    again = {field.html_name: field.value() for field in form}
    assert again["back_idle_kpa_most"] == "9"
    assert one.post(shops_page, again).status_code == 302
    assert applied(order) == (9.0, "shop")
    assert applied(order, "back_fast_kpa") == (22.0, "shop")
    # the service holds it too, where both send at once
    with pytest.raises(ValidationError) as error:
        figure_limits_set(
            place=place_of(order),
            member=cast.owner,
            test="exhaust",
            scope=Origin.SHOP,
            limits={"back_idle_kpa": Limit(most=12.0)},
            source="Manual, page 9",
            seen={},
        )
    assert set(error.value.message_dict) == {"back_idle_kpa_most"}


@pytest.mark.parametrize("seen", ["x", "back_idle_kpa:²", "a:1:2", "back_idle_kpa:" + "9" * 30])
def test_a_page_that_says_nonsense_of_what_it_showed_is_taken_as_new(
    order, cast, client_for, shops_page, seen
):
    sent = {"form_token": str(uuid4()), "back_idle_kpa_most": "9", "source": "x", "seen": seen}
    assert client_for(cast.owner).post(shops_page, sent).status_code == 302
    assert applied(order) == (9.0, "shop")


def test_a_closed_job_keeps_the_limits_it_was_closed_with(order, keep):
    keep("shop", 9.0)
    visit = order.visit
    visit.closed_at = timezone.now()
    later = keep("shop", 20.0)
    assert later[0].set_at > visit.closed_at
    assert applied(order) == (9.0, "shop")
    visit.closed_at = None
    assert applied(order) == (20.0, "shop")


def test_a_shops_limit_holds_for_the_fuel_it_was_set_for(order, cast):
    def asked(most):
        figure_limits_set(
            place=place_of(order),
            member=cast.owner,
            test="fuel_press",
            scope=Origin.SHOP,
            limits={"rest_kpa": Limit(300.0, most)},
            source="Manual, page 9",
        )

    asked(400.0)
    rest = TESTS["fuel_press"]
    assert limits_of(order, rest)["rest_kpa"].most == 400.0
    order.visit.vehicle.fuel = "diesel"
    assert "rest_kpa" not in limits_of(order, rest)
    asked(30_000.0)
    assert limits_of(order, rest)["rest_kpa"].most == 30_000.0
    order.visit.vehicle.fuel = "petrol"
    assert limits_of(order, rest)["rest_kpa"].most == 400.0


def test_limits_are_set_from_the_engines_page_and_the_shops_settings(order, cast, client_for):
    engine = order.judgement.run.setup.engine
    browser = client_for(cast.owner)
    pages = {
        reverse("jobs:engine-limits", args=[engine.pk]): (10.0, "engine"),
        reverse("jobs:shop-limits"): (9.0, "shop"),
    }
    assert next(iter(pages)) in browser.get(reverse("engines:detail", args=[engine.pk])).text
    assert reverse("jobs:shop-limits") in browser.get(reverse("people:shop")).text
    for address, (most, _origin) in reversed(pages.items()):
        here = f"{address}?test=exhaust"
        sent = page_of(browser, here) | {"back_idle_kpa_most": f"{most:g}", "source": "Manual"}
        assert browser.post(here, sent).status_code == 302
        assert applied(order) == (most, _origin)
        assert f"{most:g}" in str(browser.get(here).context["kept"])
    assert not TimelineEvent.objects.filter(data__scope__in=["shop", "engine"]).exists()


@pytest.mark.parametrize(("scope", "of_others"), [("engine", True), ("shop", True), ("job", False)])
def test_jobs_that_are_judged_by_a_new_limit_are_told(order, keep, cast, scope, of_others):
    place = LimitPlace(order.visit.shop, "petrol", order.judgement.run.setup.engine)
    away = replace(place, engine=None if scope == "shop" else place.engine)

    def told():
        return TimelineEvent.objects.filter(visit=order.visit, data__test="exhaust").count()

    if not of_others:
        keep(scope, 9.0)
        assert told() == 1
        return
    given = {"member": cast.owner, "test": "exhaust", "scope": Origin(scope), "source": "Manual"}
    figure_limits_set(place=away, limits={"back_idle_kpa": Limit(most=9.0)}, **given)
    # nothing of it is judged there yet
    assert told() == 0
    found = NewFinding(None, "exhaust", "good", figures={"back_idle_kpa": 4.0})
    finding_add(order=order, member=cast.mechanic, found=found)
    figure_limits_set(place=away, limits={"back_idle_kpa": Limit(most=9.5)}, **given)
    assert told() == 1
    diesels = replace(away, fuel="diesel", engine=None)
    if scope == "shop":
        figure_limits_set(place=diesels, limits={"back_idle_kpa": Limit(most=5.0)}, **given)
        assert told() == 1


@pytest.mark.parametrize(
    ("unit", "idle", "fast"),
    [
        # AERA Technical Committee, bulletin on exhaust back pressure: 1.25 and 3 psi
        ("psi", "1.25 psi", "3 psi"),
        ("kPa", "8.6 kPa", "20.7 kPa"),
    ],
)
def test_an_order_names_the_limits_in_force_in_the_shops_unit(order, keep, unit, idle, fast):
    place = replace(place_of(order), shop=order.visit.shop)
    place.shop.pressure_unit = unit
    asked = with_limits([BACK_PRESSURE, RUNNING], place)
    assert asked[1] == RUNNING
    assert idle in asked[0].words
    assert fast in asked[0].words
    keep("engine", 13.8)
    set_one = "at most 2 psi" if unit == "psi" else "13.8 kPa"
    assert set_one in with_limits([BACK_PRESSURE], place)[0].words


def test_a_shops_limit_for_diesels_leaves_petrol_engines_alone(order, cast, client_for):
    address = reverse("jobs:shop-limits") + "?test=exhaust&fuel=diesel"
    browser = client_for(cast.owner)
    sent = page_of(browser, address) | {"back_idle_kpa_most": "30", "source": "Manual"}
    assert browser.post(address, sent).status_code == 302
    assert applied(order) == (8.6, "usual")
    diesel = LimitPlace(cast.shop, "diesel")
    assert standing_in(diesel, "exhaust", Origin.SHOP)["back_idle_kpa"].most == 30.0
    assert browser.get(address.replace("diesel", "water")).status_code == 404
    # trims are read on petrol engines only
    assert browser.get(address.replace("exhaust", "trims")).status_code == 404


def test_who_keeps_engines_and_the_shop_sets_their_limits(order, cast, client_for):
    pages = [
        reverse("jobs:engine-limits", args=[order.judgement.run.setup.engine_id]),
        reverse("jobs:shop-limits"),
    ]

    def answers(member):
        browser = client_for(member)
        return [browser.get(page).status_code for page in pages]

    assert answers(cast.mechanic) == [403, 403]
    assert answers(cast.diagnostician) == [200, 403]
    assert answers(cast.owner) == [200, 200]


def test_limits_of_the_shop_are_set_by_who_keeps_it_from_a_job_too(
    order, cast, client_for, shops_page
):
    by = cast.diagnostician
    assert client_for(by).get(shops_page).status_code == 404
    limit = {"back_idle_kpa": Limit(most=9.0)}
    with pytest.raises(PermissionDenied):
        figure_limits_set(
            place=place_of(order),
            member=by,
            test="exhaust",
            scope=Origin.SHOP,
            limits=limit,
            source="Manual",
        )


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
    assert set(standing_in(place_of(order), "exhaust", Origin.JOB)) == {"back_idle_kpa"}
    assert {line.figure for line in limit_lines_of(order, TESTS["coil"])} == {
        "primary_ohm",
        "secondary_kohm",
        "primary_peak_a",
        "spark_ms",
    }


def test_every_typed_test_has_its_cautions():
    # nobody touches the engine to read what it kept
    for test in TESTS.keys() - {"frame"}:
        assert cautions_of_test(test, "petrol"), test
    # a diesel has no ignition to touch
    assert not set(cautions_of_test("coil", "petrol")) <= set(cautions_of_test("coil", "diesel"))
    assert set(cautions_of_test("fuel_press", "petrol")).isdisjoint(
        cautions_of_test("fuel_press", "diesel")
    )


def test_no_test_without_a_figure_to_limit_is_offered(cast):
    for fuel in ("petrol", "diesel"):
        offered = limits_offered(LimitPlace(cast.shop, fuel), ())
        assert offered
        assert [t for t in offered if not TESTS[t.value].limited] == []
