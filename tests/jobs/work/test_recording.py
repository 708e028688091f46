"""Recording as it is done at the engine: puffs, whole-engine tests, cylinder by cylinder."""

import re
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.groups import ONLY_BEYOND
from jobs.core.patterns import Pattern
from jobs.core.tests_wanted import EITHER_WAY, WHOLE_ENGINE, recorded_as, wanted_tests
from jobs.core.wanted_test_texts import SWAP
from jobs.models import CylinderFinding, TimelineEvent, WorkOrder
from jobs.selectors.findings import current_findings, finding_words, next_cylinder, unrecorded_tests
from jobs.selectors.order_lines import wanted_lines
from jobs.selectors.sheet import has_running, sheet_rows
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_accept, work_order_create
from tests.wording import named, says, wording


@pytest.fixture
def mechanic(cast):
    return cast.mechanic


@pytest.fixture
def browser(client_for, mechanic):
    return client_for(mechanic)


@pytest.fixture
def address(order):
    return reverse("jobs:finding-add", args=[order.pk])


def sent(**given):
    return {
        "form_token": str(uuid4()),
        "cylinder": "3",
        "test": "gauge_dry",
        "outcome": "bad",
        **given,
    }


def test_first_and_last_puff_are_two_figures(browser, address, order, cast):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    assert browser.post(address, sent(first_puff="2.5", pressure="6.2")).status_code == 302
    finding = CylinderFinding.objects.get()
    assert (finding.first_puff_kpa, finding.pressure_kpa) == pytest.approx((250, 620))
    words = finding_words(finding, "bar")
    assert words.startswith("cylinder 3, ")
    assert says(words, "findings.first-puff", last="6.2 bar", first_puff_kpa="2.5 bar")
    assert words.endswith(", bad")
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert says(page, "findings.first-puff", last="6.2 bar", first_puff_kpa="2.5 bar")
    rows = {row.name: row for row in sheet_rows(order, [finding], "bar")}
    assert says(rows["3"].dry, "sheet.first-puff-last", first=2.5, last=6.2)
    form = browser.get(address, {"replaces": finding.pk}).context["form"]
    assert form["first_puff"].value() == 2.5


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"first_puff": "700", "pressure": "620"}, named("findings.gauge-holds-highest-first")),
        ({"first_puff": "20000", "pressure": "620"}, named("reading_table.more-gauge-shows-check")),
        (
            {"first_puff": "-1", "pressure": "620"},
            named("finding_figures.gauge-pressure-cannot-negative"),
        ),
        ({"first_puff": "300"}, named("findings.write-down-what-gauge")),
    ],
)
def test_puffs_that_cannot_be(browser, address, given, sentence):
    response = browser.post(address, sent(**given))
    assert response.status_code == 422
    assert says(response.content.decode(), sentence)
    assert not CylinderFinding.objects.exists()


def test_a_puff_of_another_test_is_not_kept(order, mechanic):
    finding = finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(
            3, "leak_down", "bad", leak_percent=40, heard_at="intake", first_puff_kpa=300
        ),
    )
    assert finding.first_puff_kpa is None


@pytest.mark.parametrize("test", sorted(WHOLE_ENGINE - ONLY_BEYOND))
def test_a_test_of_the_engine_asks_for_no_cylinder(browser, address, order, test):
    given = sent(test=test, cylinder="", outcome="bad", words="Binds once a turn.")
    assert browser.post(address, given).status_code == 302
    finding = CylinderFinding.objects.get()
    assert finding.cylinder is None
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert "found: whole engine, " in TimelineEvent.objects.get(kind="finding").words
    assert "Binds once a turn." in page
    assert "None" not in page
    sheet = browser.get(reverse("jobs:work-order-print", args=[order.pk])).content.decode()
    assert "Binds once a turn." in sheet


def test_a_cylinder_left_ticked_says_nothing_about_the_engine(browser, address):
    browser.post(address, sent(test="sync", outcome="good"))
    assert CylinderFinding.objects.get().cylinder is None


def test_what_was_seen_is_needed_unless_the_engine_is_good(order, mechanic):
    with pytest.raises(ValidationError) as refused:
        finding_add(order=order, member=mechanic, found=NewFinding(None, "bind", "bad"))
    assert says(refused.value, "findings.say-few-words-what")
    finding_add(order=order, member=mechanic, found=NewFinding(None, "bind", "good"))
    with pytest.raises(ValidationError) as refused:
        finding_add(order=order, member=mechanic, found=NewFinding(None, "gauge_dry", "bad", 600))
    assert says(refused.value, "swap.choose-cylinder")


def test_tests_of_the_engine_have_one_button(triaged, run_of, by, browser):
    run = run_of(triaged, {1: 1.0, 2: 0.6, 3: 0.6, 4: 1.0})
    signed = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[2, 3]
    )
    order = work_order_create(judgement=signed, member=by)
    lines = {line.record_as: line for line in wanted_lines(order, [])}
    assert lines["repeat"].whole_engine
    assert lines["bind"].whole_engine
    assert not lines["gauge_dry"].whole_engine
    response = browser.get(reverse("jobs:work-order", args=[order.pk]))
    page = response.content.decode()
    assert '?test=bind"' in page
    assert 'name="cylinder_2_pressure"' in page
    steps = {step.item.line.record_as: step for step in response.context["steps"]}
    assert steps["bind"].table is None
    assert steps["gauge_dry"].table.numbers == [2, 3, 1, 4]
    finding_add(order=order, member=by, found=NewFinding(None, "bind", "good"))
    assert ">recorded<" in browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()


def test_wanted_tests_are_recorded_under_a_name_of_a_finding():
    for pattern in Pattern:
        for test in wanted_tests(pattern):
            # a swap has a record of its own
            assert test.key == SWAP.key or recorded_as(test.key) in CylinderFinding.Test.values


def test_one_button_goes_on_to_the_next_cylinder(browser, address, order, mechanic):
    first = browser.post(address, sent(pressure="620", conditions="5 strokes, warm", next="1"))
    assert first.headers["Location"] == f"{address}?test=gauge_dry&cylinder=4"
    form = browser.get(first.headers["Location"]).context["form"]
    assert (form["test"].value(), form["cylinder"].value()) == ("gauge_dry", "4")
    assert form["conditions"].value() == "5 strokes, warm"
    for cylinder in (4, 1):
        finding_add(
            order=order, member=mechanic, found=NewFinding(cylinder, "gauge_dry", "good", 1200)
        )
    last = browser.post(address, sent(cylinder="2", pressure="1200", outcome="good", next="1"))
    here = reverse("jobs:work-order", args=[order.pk])
    assert last.headers["Location"] == f"{here}?at=gauge_dry#test-gauge_dry"
    plain = browser.post(address, sent(test="leak_down", leak_percent="40", heard_at="intake"))
    assert plain.headers["Location"] == f"{here}?at=leak_down#test-leak_down"


def test_the_next_cylinder_counts_up_and_round(order):
    assert next_cylinder(order, "gauge_dry", 3, [1, 2, 3, 4]) == 4
    assert next_cylinder(order, "gauge_dry", 4, [1, 2, 3, 4]) == 1
    assert next_cylinder(order, "gauge_dry", 1, [1]) is None


def test_a_capture_that_others_record_holds_up_no_order(order, mechanic):
    work_order_accept(order=order, member=mechanic)
    WorkOrder.objects.update(tests=[t for t in order.tests if recorded_as(t["key"]) == "repeat"])
    order = WorkOrder.objects.get()
    assert len(order.tests) == 1
    assert unrecorded_tests(order) == []


def test_wanted_tests_left_out_ask_for_a_word(browser, order, mechanic):
    work_order_accept(order=order, member=mechanic)
    order = WorkOrder.objects.get()
    finding_add(order=order, member=mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    # The repeated capture is for whoever records captures: it counts, and is named with the rest.
    assert unrecorded_tests(order) == [
        "Repeated capture",
        "Leak-down",
        "Borescope",
        "Plug, injector seats",
        "Compression test, wet",
        wording("work.valve-clearance-lift"),
        f"{wording('work.compression-test-dry')} (cylinders 1, 2 and 4)",
    ]
    address = reverse("jobs:work-order-complete", args=[order.pk])
    refused = browser.post(address, {"summary": "Leaks."})
    assert refused.status_code == 422
    page = refused.content.decode()
    assert says(page, "completion.nothing-recorded-record-say")
    assert "Repeated capture; Leak-down; Borescope; " in page
    assert "Leaks." in page
    assert (
        browser.post(address, {"summary": "Leaks.", "left_out": "No adapter."}).status_code == 302
    )
    order.refresh_from_db()
    assert order.left_out == "No adapter."
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert says(page, "complete.wanted-tests-left-out")
    assert "No adapter." in page


def test_a_test_of_one_of_two_named_cylinders_is_not_one_of_both(
    triaged, run_of, sign, *, by, mechanic, browser
):
    run = run_of(triaged, {1: 1.0, 2: 0.5, 3: 0.5, 4: 1.0})
    order = work_order_create(judgement=sign(triaged, run, [2, 3]), member=by)
    here = reverse("jobs:work-order", args=[order.pk])

    def leak(cylinder):
        found = NewFinding(
            cylinder, "leak_down", "bad", leak_percent=50 + cylinder, heard_at="intake"
        )
        finding_add(order=order, member=mechanic, found=found)
        return [name for name in unrecorded_tests(order) if name.startswith("Leak")]

    assert leak(3) == ["Leak-down (cylinder 2)"]
    assert says(browser.get(here).content.decode(), "checklist.not-yet", cylinders="cylinder 2")
    assert leak(2) == []
    assert "not yet on" not in browser.get(here).content.decode()


def test_not_done_with_a_reason_is_recorded_too(order, mechanic):
    for test in dict.fromkeys(recorded_as(wanted["key"]) for wanted in order.tests):
        finding_add(
            order=order, member=mechanic, found=NewFinding(3, test, "not_done", words="Declined.")
        )
    done = work_order_complete(
        order=WorkOrder.objects.get(), member=mechanic, summary="", left_out="never asked"
    )
    assert (done.state, done.left_out) == ("done", "")


def test_a_colleague_may_record_and_it_is_told(order, mechanic, cast, client_for):
    work_order_accept(order=order, member=mechanic)
    colleague = client_for(cast.owner)
    address = reverse("jobs:finding-add", args=[order.pk])
    assert says(
        colleague.get(address).content.decode(), "finding.work-order-hands-what", name="Mika Mech"
    )
    colleague.post(address, sent(pressure="620"))
    line = TimelineEvent.objects.get(kind="finding")
    assert says(line.words, "findings.work-order", name="Mika Mech")
    assert line.data["cylinder"] == 3
    assert line.by == cast.owner
    page = colleague.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert "Olive Owner" in page


def test_nothing_that_is_needed_at_times_is_called_optional(browser, address):
    page = browser.get(address).content.decode()
    for label in ("Gauge after the last puff", "Leakage"):
        after = page.split(f">{label}")[1][:60]
        assert "optional" not in after
    puff = wording("work.gauge-after-first-puff")
    assert "optional" in page.split(f">{puff}")[1][:60]


def test_the_page_asks_for_no_cylinder_where_a_test_is_about_the_engine():
    css = (Path(settings.BASE_DIR) / "shopdiag/static/css/work.css").read_text(encoding="utf-8")
    rule = next(line for line in css.splitlines() if line.rstrip(",").endswith(".only-cylinder"))
    assert set(re.findall(r'value="(\w+)"', rule)) == WHOLE_ENGINE - EITHER_WAY


def test_running_figures_and_oil_are_on_the_sheet(order, mechanic, browser):
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(3, "running", "bad", idle_kpa=310, snap_kpa=420),
    )
    finding_add(order=order, member=mechanic, found=NewFinding(1, "running", "good", idle_kpa=520))
    finding_add(
        order=order,
        member=mechanic,
        found=NewFinding(3, "gauge_wet", "bad", pressure_kpa=640, oil_ml=5, swept_ml=500),
    )
    findings = current_findings(order)
    rows = {row.name: row for row in sheet_rows(order, findings, "kPa")}
    assert rows["3"].running == "310 / 420, bad"
    assert rows["1"].running == "520 / –, good"
    assert rows["3"].wet == "640, 5 ml, bad"
    sheet = browser.get(reverse("jobs:work-order-print", args=[order.pk])).content.decode()
    for cell in ("310 / 420", "640, 5 ml"):
        assert cell in sheet


def test_the_sheet_says_what_each_test_amounts_to(order, mechanic, cast, browser):
    cast.shop.pressure_unit = "bar"
    cast.shop.save()
    for found in (
        NewFinding(1, "gauge_dry", "good", pressure_kpa=1240),
        NewFinding(3, "gauge_dry", "bad", pressure_kpa=970, words="W.", confirmed=True),
        NewFinding(3, "gauge_wet", "ambiguous", pressure_kpa=990, words="W."),
        NewFinding(3, "leak_down", "not_done", words="No time."),
        NewFinding(4, "leak_down", "bad", leak_percent=42, heard_at="exhaust"),
        NewFinding(4, "running", "not_done", words="No tool."),
        NewFinding(4, "borescope", "bad", words="Burnt."),
        NewFinding(2, "borescope", "good", words="Clean."),
        NewFinding(None, "bind", "bad", words="Binds once a turn."),
    ):
        finding_add(order=order, member=mechanic, found=found)
    rows = {row.name: row for row in sheet_rows(order, current_findings(order), "bar")}
    assert (rows["1"].dry, rows["1"].wet, rows["1"].leak, rows["1"].words) == (
        "12.4, good",
        *[""] * 3,
    )
    three = rows["3"]
    assert (three.dry, three.wet, three.leak) == ("9.7, bad", "9.9, ambiguous", "not done")
    assert three.words.split("; ") == ["Dry: W", "Wet: W", "Leak-down: No time"]
    four = rows["4"]
    assert (four.leak, four.heard, four.running) == ("42, bad", "Exhaust", "not done")
    assert four.words.split("; ") == ["Running: No tool", "Borescope: bad, Burnt"]
    assert rows["2"].words == "Borescope: good, Clean"
    assert rows["engine"].words.endswith(": bad, Binds once a turn.")


def test_long_remarks_give_way_and_each_keeps_its_test(order, mechanic):
    for found in (
        NewFinding(3, "gauge_dry", "bad", pressure_kpa=970, words="Long. " * 60),
        NewFinding(3, "leak_down", "not_done", words="No time."),
        NewFinding(3, "borescope", "ambiguous", words="Long. " * 60),
    ):
        finding_add(order=order, member=mechanic, found=found)
    rows = {row.name: row for row in sheet_rows(order, current_findings(order), "kPa")}
    parts = rows["3"].words.split("; ")
    assert [part.split(":")[0] for part in parts] == ["Dry", "Leak-down", "Borescope"]
    assert parts[2].startswith("Borescope: ambiguous, ")


def test_only_an_open_orders_findings_are_so_far(order, mechanic, browser):
    address = reverse("jobs:work-order-print", args=[order.pk])
    assert not says(browser.get(address).content.decode(), "order_sheet.findings-recorded-far")
    found = NewFinding(3, "gauge_dry", "bad", pressure_kpa=620)
    finding_add(order=order, member=mechanic, found=found)
    assert says(browser.get(address).content.decode(), "order_sheet.findings-recorded-far")
    for state in ("done", "withdrawn"):
        WorkOrder.objects.filter(pk=order.pk).update(state=state)
        assert not says(browser.get(address).content.decode(), "order_sheet.findings-recorded-far")


def test_the_sheet_has_a_column_for_running_only_where_it_is_asked_for(order):
    assert not has_running(order, [])
    order.tests = [{"key": "running"}]
    assert has_running(order, [])
