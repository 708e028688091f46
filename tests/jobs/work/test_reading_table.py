"""A test's readings as one table: what is recorded, proposed, asked back and told."""

import re
from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.core.gauge import DEFAULT_DIESEL_RULE, RULES, GaugeRule
from jobs.core.proposed_outcomes import proposed_by_leak, proposed_by_limit
from jobs.models import CylinderFinding, TimelineEvent, WorkOrder
from jobs.selectors.checklist import checklist_of
from jobs.selectors.findings import current_findings, dry_left, unrecorded_tests
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept
from tests.jobs.work.kept_order import cast, kept, order, taken, visit  # noqa: F401 - fixtures
from tests.wording import says


@pytest.fixture
def mechanic(cast):  # noqa: F811
    return cast.mechanic


@pytest.fixture
def browser(client_for, mechanic):
    return client_for(mechanic)


@pytest.fixture
def address(order):  # noqa: F811
    return reverse("jobs:readings-add", args=[order.pk])


def typed(test="gauge_dry", *, seen="", token=None, **rows):
    """Return a table as it is sent; a row is `c3=("480", "bad")` or with words behind."""
    sent = {"form_token": str(token or uuid4()), "test": test, "seen": seen}
    figure = {"gauge_dry": "pressure", "gauge_wet": "pressure", "leak_down": "leak_percent"}[test]
    for name, (value, outcome, *words) in rows.items():
        row = f"cylinder_{name[1:]}"
        sent |= {f"{row}_{figure}": value, f"{row}_outcome": outcome}
        sent |= {f"{row}_words": said for said in words}
    return sent


ALL = {"c3": ("480", "bad"), "c1": ("1190", "good"), "c2": ("1180", "good"), "c4": ("1200", "good")}


def recorded():
    rows = CylinderFinding.objects.filter(replaced_by=None).order_by("cylinder")
    return [(f.cylinder, f.pressure_kpa, f.outcome) for f in rows]


def test_all_readings_are_saved_at_once_and_the_page_stays_at_the_test(browser, address, order):  # noqa: F811
    answer = browser.post(address, typed(**ALL))
    here = reverse("jobs:work-order", args=[order.pk])
    assert answer.headers["Location"] == f"{here}?at=gauge_dry#test-gauge_dry"
    assert recorded() == [
        (1, 1190.0, "good"),
        (2, 1180.0, "good"),
        (3, 480.0, "bad"),
        (4, 1200.0, "good"),
    ]
    assert TimelineEvent.objects.filter(kind="finding").count() == 4
    assert WorkOrder.objects.get().state == "accepted"


def test_the_suspect_comes_first_and_what_stands_is_in_its_row(browser, order, mechanic):  # noqa: F811
    finding_add(order=order, member=mechanic, found=NewFinding(2, "gauge_dry", "good", 1190))
    page = browser.get(reverse("jobs:work-order", args=[order.pk]))
    (table,) = [s.table for s in page.context["steps"] if s.item.anchor == "test-gauge_dry"]
    assert table.numbers == [3, 1, 2, 4]
    assert table["cylinder_2_pressure"].value() == 1190


def test_a_table_that_is_sent_again_adds_nothing(browser, address):
    sent = typed(**ALL)
    for _ in range(2):
        assert browser.post(address, sent).status_code == 302
    assert CylinderFinding.objects.count() == 4


def test_a_row_that_was_changed_corrects_and_the_others_say_nothing(browser, address):
    browser.post(address, typed(**ALL))
    seen = ",".join(f"{f.cylinder}:{f.pk}" for f in CylinderFinding.objects.all())
    changed = ALL | {"c3": ("520", "bad")}
    assert browser.post(address, typed(seen=seen, **changed)).status_code == 302
    assert CylinderFinding.objects.count() == 5
    assert recorded()[2] == (3, 520.0, "bad")
    assert CylinderFinding.objects.get(replaces__pressure_kpa=480).pressure_kpa == 520


def test_a_correction_keeps_how_the_first_was_done(browser, address, order, mechanic):  # noqa: F811
    first = finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(
            3,
            "leak_down",
            "bad",
            leak_percent=55,
            heard_at="exhaust",
            at_tdc=True,
            supply_kpa=600,
            conditions="warm",
        ),
    )
    sent = typed("leak_down", seen=f"3:{first.pk}", c3=("57", "bad"))
    sent |= {"cylinder_3_heard_at": "exhaust", "supply": "600.0", "conditions": "warm"}
    assert browser.post(address, sent).status_code == 302
    second = CylinderFinding.objects.get(replaces=first)
    assert (second.leak_percent, second.at_tdc, second.supply_kpa) == (57, True, 600)
    assert (second.heard_at, second.conditions) == ("exhaust", "warm")


def test_what_a_colleague_recorded_meanwhile_is_told_not_replaced(
    browser,
    address,
    order,  # noqa: F811
    cast,  # noqa: F811
):
    finding_add(order=order, member=cast.owner, found=NewFinding(3, "gauge_dry", "bad", 510))
    answer = browser.post(address, typed(**ALL))
    assert answer.status_code == 422
    assert says(
        answer.content.decode(), "reading_table.recorded-meanwhile-save-again", name="Olive Owner"
    )
    assert CylinderFinding.objects.count() == 1
    table = answer.context["steps"][
        [s.item.anchor for s in answer.context["steps"]].index("test-gauge_dry")
    ].table
    assert table["cylinder_3_pressure"].value() == "480"
    again = typed(seen=table["seen"].value(), **ALL)
    assert browser.post(address, again).status_code == 302
    assert recorded()[2] == (3, 480.0, "bad")
    assert CylinderFinding.objects.get(replaces__by=cast.owner).pressure_kpa == 480


def test_a_row_left_alone_takes_what_a_colleague_recorded(browser, address, order, cast):  # noqa: F811
    finding_add(order=order, member=cast.owner, found=NewFinding(2, "gauge_dry", "good", 1180))
    rows = {c: row for c, row in ALL.items() if c != "c2"} | {"c1": ("", "good")}
    answer = browser.post(address, typed(**rows))
    assert answer.status_code == 422
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    assert table["cylinder_2_pressure"].value() == 1180
    assert f"2:{CylinderFinding.objects.get().pk}" in table["seen"].value()


def test_outcomes_are_proposed_and_nothing_is_kept_before_somebody_saw_them(browser, address):
    bare = {c: (value, "") for c, (value, _) in ALL.items()}
    answer = browser.post(address, typed(**bare))
    assert answer.status_code == 422
    assert not CylinderFinding.objects.exists()
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    outcomes = {row.number: row.outcome.value() for row in table.rows}
    assert outcomes == {3: "bad", 1: "good", 2: "good", 4: "good"}
    assert {row.number for row in table.rows if row.is_missing_limit} == {3}
    assert all(row.is_proposed for row in table.rows)


def test_a_figure_that_cannot_be_spoils_no_other_and_proposals_stay_proposals(browser, address):
    rows = {
        "c3": ("480,5", ""),
        "c1": ("12,0", "bad"),
        "c2": ("1180", "bad"),
        "c4": ("99999999", ""),
    }
    answer = browser.post(address, typed(**rows) | {"proposed": "1,2"})
    assert answer.status_code == 422
    assert "99999999 kPa" in answer.content.decode()
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    # 2 is the highest that is believed; the slip in 4 leaves open whether it is good
    outcomes = {row.number: (row.outcome.value(), row.is_proposed) for row in table.rows}
    assert outcomes == {3: ("bad", True), 1: ("bad", True), 2: ("", False), 4: ("", False)}
    corrected = {
        "c3": ("480,5", "bad"),
        "c1": ("1200", "bad"),
        "c2": ("1180", ""),
        "c4": ("1190", ""),
    }
    again = browser.post(address, typed(**corrected) | {"proposed": "3,1"})
    table = next(s.table for s in again.context["steps"] if s.item.anchor == "test-gauge_dry")
    remade = {row.number: row.outcome.value() for row in table.rows}
    assert remade == {3: "bad", 1: "good", 2: "good", 4: "good"}
    assert all(row.is_proposed for row in table.rows)
    assert not CylinderFinding.objects.exists()


def test_a_contradiction_is_asked_back_and_stands_when_confirmed(browser, address):
    sent = typed(**ALL | {"c3": ("480", "good")})
    answer = browser.post(address, sent)
    assert answer.status_code == 422
    assert not CylinderFinding.objects.exists()
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    assert table.asks_back
    digest = table.fields["confirmed"].widget.digest
    assert browser.post(address, sent | {"confirmed": digest}).status_code == 302
    assert recorded()[2] == (3, 480.0, "good")


def test_the_question_names_its_cylinder(browser, address):
    answer = browser.post(address, typed(c4=("3900", "good")))
    assert says(
        answer.content.decode(),
        "plausible.more-such-engine-builds",
        pressure="Cylinder 4: 3900 kPa",
    )


def test_an_odd_figure_in_one_row_keeps_all_of_them_back(browser, address):
    answer = browser.post(address, typed(**ALL | {"c2": ("1,180", "good")}))
    assert answer.status_code == 422
    assert not CylinderFinding.objects.exists()
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    assert table["cylinder_2_pressure"].value() == "1,180"
    assert table["cylinder_3_pressure"].value() == "480"


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (("", "bad"), "pressure"),
        (("", "not_done"), "words"),
        (("", "", "Cold."), "pressure"),
        (("20000", "bad"), "pressure"),
        (("-1", "bad"), "pressure"),
        (("480", ""), "outcome"),
        (("480", "not_done", "Seized."), "outcome"),
    ],
)
def test_a_row_that_says_too_little_is_told_beside_its_field(browser, address, row, field):
    answer = browser.post(address, typed(c3=row))
    assert answer.status_code == 422
    table = next(s.table for s in answer.context["steps"] if s.item.anchor == "test-gauge_dry")
    assert list(table.errors) == [f"cylinder_3_{field}"]


def test_what_is_recorded_is_not_emptied(browser, address):
    browser.post(address, typed(**ALL))
    seen = ",".join(f"{f.cylinder}:{f.pk}" for f in CylinderFinding.objects.all())
    answer = browser.post(address, typed(seen=seen, **ALL | {"c3": ("", "")}))
    assert answer.status_code == 422
    assert recorded()[2] == (3, 480.0, "bad")


def test_a_comma_or_a_point_in_the_shops_unit(browser, address, cast):  # noqa: F811
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    browser.post(address, typed(c3=("4,8", "bad"), c1=("11.9", "good")))
    assert [kpa for _, kpa, _ in recorded()] == pytest.approx([1190, 480])


def test_an_empty_table_says_nothing(browser, address):
    assert browser.post(address, typed(c3=("", ""))).status_code == 422
    assert not CylinderFinding.objects.exists()


def test_a_test_without_a_table_has_none(browser, address):
    assert browser.post(address, typed() | {"test": "bind"}).status_code == 404


def test_another_trade_and_another_shop_record_nothing(client_for, cast, address):  # noqa: F811
    assert client_for(cast.writer).post(address, typed(**ALL)).status_code == 403
    assert client_for(cast.outsider).post(address, typed(**ALL)).status_code == 404
    assert not CylinderFinding.objects.exists()


def test_a_withdrawn_order_takes_nothing_and_gives_back_what_was_typed(
    browser,
    address,
    order,  # noqa: F811
):
    WorkOrder.objects.filter(pk=order.pk).update(state="withdrawn")
    answer = browser.post(address, typed(**ALL))
    assert answer.status_code == 422
    assert 'value="480"' in answer.content.decode()


def gauge_left(order):  # noqa: F811
    """Return what the gauge is not recorded on yet, and whether it is ticked."""
    items = checklist_of(order, current_findings(order), []).items
    (item,) = [i for i in items if i.line.record_as == "gauge_dry"]
    return item.line.left, item.is_done


def test_not_measured_with_a_reason_is_answered(order, mechanic):  # noqa: F811
    work_order_accept(order=order, member=mechanic)
    for cylinder, value in ((3, 480), (1, 1190), (2, 1180)):
        found = NewFinding(cylinder, "gauge_dry", "bad" if value < 900 else "good", value)
        finding_add(order=order, member=mechanic, found=found)
    assert dry_left(order) == [4]
    assert any("(cylinder 4)" in test for test in unrecorded_tests(order))
    # The list says which one it waits for; it read recorded beside a number that was not ticked.
    assert gauge_left(order) == ("cylinder 4", False)
    found = NewFinding(4, "gauge_dry", "not_done", words="Plug seized.")
    finding_add(order=order, member=mechanic, found=found)
    assert dry_left(order) == []
    assert gauge_left(order) == ("", True)
    left = unrecorded_tests(order)
    assert not [name for name in left if name.startswith("Compression test, dry")]


def test_what_a_completed_order_left_out_is_not_waited_for(order, mechanic, client_for):  # noqa: F811
    work_order_accept(order=order, member=mechanic)
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    page = f"/work-orders/{order.pk}/"

    def waiting():
        states = re.findall(
            r"check-state.*?</summary>", client_for(mechanic).get(page).content.decode()
        )
        assert states
        return [state for state in states if "not yet" in state]

    assert waiting()
    order.refresh_from_db()
    work_order_complete(order=order, member=mechanic, summary="Valve.", left_out="Clear enough.")
    assert not waiting()


def test_an_order_has_one_main_button_and_stays_short_after_saving(
    browser,
    order,  # noqa: F811
    address,
    mechanic,
):
    work_order_accept(order=order, member=mechanic)
    here = browser.post(address, typed(**ALL)).headers["Location"]
    page = browser.get(here.split("#")[0])
    assert page.content.decode().count("btn-primary") == 1
    assert [s.item.anchor for s in page.context["steps"] if s.is_open] == ["test-leak_down"]
    assert not page.context["opens_complete"]


def test_the_next_test_is_unfolded_and_the_one_at_hand(order, mechanic):  # noqa: F811
    def unfolded(at=""):
        list_now = checklist_of(order, current_findings(order), [], at)
        return [item.line.record_as for item in list_now.items if item.is_open]

    # somebody else records the repeated capture, which comes first
    assert unfolded() == ["leak_down"]
    finding_add(order=order, member=mechanic, found=NewFinding(None, "repeat", "good"))
    assert unfolded() == ["leak_down"]
    assert unfolded("gauge_dry") == ["gauge_dry"]
    # what was just saved and is done folds
    assert unfolded("repeat") == ["leak_down"]
    assert checklist_of(order, current_findings(order), []).done == 1


@pytest.mark.parametrize(
    ("readings", "rule", "proposed"),
    [
        ({1: 1200.0, 2: 1190.0, 3: 480.0}, RULES[0], {1: "good", 2: "good", 3: "bad"}),
        # a higher one may still come
        ({1: 1200.0, 3: 480.0}, RULES[0], {3: "bad"}),
        ({1: 1200.0}, RULES[0], {}),
        ({1: 500.0}, RULES[1], {1: "bad"}),
        # all alike and all too little: no share is missed, and nobody calls that good
        ({1: 300.0, 2: 300.0, 3: 300.0}, RULES[0], {}),
        ({1: 1500.0, 2: 1390.0, 3: 1450.0}, RULES[2], {1: "good", 2: "bad", 3: "good"}),
        ({}, DEFAULT_DIESEL_RULE, {}),
    ],
)
def test_what_the_limit_proposes(readings, rule: GaugeRule, proposed):
    assert proposed_by_limit(readings, [1, 2, 3], rule, "petrol") == proposed


def test_readings_in_another_unit_are_told_before_an_outcome_is_asked_for(browser, address):
    """A gauge in bar, typed as kilopascals: the question is the unit, not the outcome."""
    rows = {"c3": ("6.4", ""), "c1": ("11.8", ""), "c2": ("11.5", ""), "c4": ("11.2", "")}
    page = browser.post(address, typed(**rows))
    table = next(s.table for s in page.context["steps"] if s.item.anchor == "test-gauge_dry")
    for cylinder, figure in ((1, "11.8 kPa"), (2, "11.5 kPa"), (4, "11.2 kPa")):
        [told] = table.errors[f"cylinder_{cylinder}_outcome"]
        assert says(told, "plausible.pressure-next-nothing", pressure=figure)
    assert not CylinderFinding.objects.exists()


def test_what_a_leak_down_proposes():
    given = {1: 8.0, 2: 10.0, 3: 20.0, 4: 30.0, 5: 31.0}
    assert proposed_by_leak(given) == {1: "good", 2: "good", 5: "bad"}
