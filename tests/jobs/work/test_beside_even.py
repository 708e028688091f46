"""An even verdict beside which something shows is told with it, wherever it is told."""

from dataclasses import replace

import pytest
from django.urls import reverse

from engines.core.firing import FiringOrder
from jobs.core.groups import EVEN_IN_TEST, NOT_TESTED, OPEN_IN_TEST, UNSURE_IN_TEST, group_request
from jobs.core.patterns import Pattern
from jobs.selectors.captures import beside_in_test, even_in_test, verdict_words
from jobs.selectors.decision import run_to_decide
from jobs.selectors.order_draft import order_draft
from jobs.selectors.outcome import customer_copy_of, uneven_after
from jobs.selectors.patterns import pattern_cards
from jobs.services.work import work_order_create
from tests.jobs.work.conftest import report_of
from tests.wording import says, says_only
from traces.core.findings.findings import Finding
from traces.core.report.bank_results import BankDifference, BankMean
from traces.core.report.results import Report
from traces.models import Run
from traces.selectors.captures import RunOutcome

ORDER = FiringOrder.parse("1-3-4-2")
EVEN = {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}
HIGH = EVEN | {3: 1.3}
"""Cylinder 3 stands high; 2 is its companion."""


def bank_weaker(report: Report) -> Report:
    """Return it with cylinders 2 and 3 weaker as a bank."""
    return replace(
        report,
        banks=(BankMean((1, 4), 1.0, 0.98, 1.02), BankMean((2, 3), 0.9, 0.88, 0.92)),
        bank_difference=BankDifference(10.0, 6.0, 14.0, (2, 3), "uneven"),
    )


def with_weaker_bank(run: Run) -> Run:
    assert run.report is not None
    Run.objects.filter(pk=run.pk).update(result=bank_weaker(run.report).to_json())
    run.refresh_from_db()
    return run


@pytest.fixture
def high_run(triaged, run_of):
    return run_of(triaged, HIGH)


@pytest.mark.parametrize("group", ["ignition", "valve_train", "unsettled"])
def test_a_high_cylinder_is_named_and_nobody_reads_of_no_fault(triaged, sign, high_run, group):
    judgement = sign(triaged, high_run, (), mechanical="no", fault_group=group)
    draft = order_draft(judgement)
    assert "cylinder 3" in draft.request
    assert draft.request != group_request(judgement.group, [], may_hold_liquid=True)
    assert EVEN_IN_TEST not in draft.how_low
    assert "cylinder 3" in draft.how_low
    copy = customer_copy_of(triaged)
    assert EVEN_IN_TEST not in copy.result
    assert "cylinder 3" in copy.result
    _words, kind, detail = verdict_words(high_run.report)
    assert (kind, "cylinder 3" in detail) == ("watch", True)


def test_an_order_names_whose_exhaust_valves_may_stay_shut(triaged, sign, by, high_run, client_for):
    judgement = sign(triaged, high_run, (), mechanical="no", fault_group="unsettled")
    order = work_order_create(judgement=judgement, member=by)
    lift = next(t for t in order.tests if t["key"] == "exhaust_lift")
    assert "cylinder 2" in lift["words"]
    page = client_for(by).get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert says(page, "patterns.exhaust-valves-may-stay", cylinders="cylinder 2")


def test_the_figures_of_a_capture_call_it_high(high_run, by, client_for):
    address = reverse("traces:run", args=[high_run.capture_id, high_run.pk])
    page = client_for(by).get(address).content.decode()
    assert page.count('badge-watch">high<') == 1


@pytest.mark.parametrize("last", [EVEN, HIGH])
def test_of_even_captures_the_one_that_shows_something_is_signed_first(triaged, run_of, last):
    runs = [run_of(triaged, figures) for figures in (HIGH if last is EVEN else EVEN, last)]
    to_decide = run_to_decide(triaged)
    assert to_decide == runs[0 if last is EVEN else 1]


def test_two_companions_that_are_high_suspect_no_valve_gear(triaged, sign, run_of):
    run = run_of(triaged, EVEN | {2: 1.3, 3: 1.3})
    draft = order_draft(sign(triaged, run, (), mechanical="no", fault_group="unsettled"))
    high = next(c for c in draft.patterns if c.pattern is Pattern.HIGH_COMPANIONS)
    assert high.hints == ()
    assert says(draft.request, "request.find-what-binds-once")


def test_what_is_high_after_the_repair_is_told(triaged, run_of):
    run_of(triaged, HIGH, purpose="verification")
    assert "cylinder 3" in uneven_after(triaged)


def test_low_and_high_stand_beside_each_other(triaged, sign, run_of):
    run = run_of(triaged, {1: 1.3, 2: 1.0, 3: 0.5, 4: 1.0})
    assert "cylinder 1" in verdict_words(run.report)[2]
    assert "cylinder 3" in verdict_words(run.report)[2]
    sign(triaged, run)
    assert beside_in_test(run.report) in customer_copy_of(triaged).result


def test_a_cylinder_to_watch_is_not_told_as_even():
    report = report_of(EVEN, ORDER)
    watched = tuple(
        replace(e, call="watch", relative=0.84) if e.cylinder == 2 else e for e in report.estimates
    )
    words = even_in_test(replace(report, estimates=watched))
    assert words != EVEN_IN_TEST
    assert "cylinder 2" in words
    assert even_in_test(report) == EVEN_IN_TEST


def test_a_plug_out_beside_a_weaker_bank_does_not_say_that_no_fault_showed():
    report = bank_weaker(report_of(EVEN, ORDER))
    opened = tuple(replace(e, call="open") if e.cylinder == 1 else e for e in report.estimates)
    words = even_in_test(replace(report, estimates=opened))
    assert OPEN_IN_TEST.format(cylinder=1) not in words
    assert NOT_TESTED.format(cylinder=1) in words


def test_an_order_on_a_weaker_bank_agrees_with_itself(triaged, sign, by, run_of, client_for):
    run = with_weaker_bank(run_of(triaged, EVEN))
    judgement = sign(triaged, run, ())
    draft = order_draft(judgement)
    card = next(c for c in draft.patterns if c.pattern is Pattern.BANK_UNEVEN)
    assert draft.disproof == str(card.meaning.disproof)
    assert beside_in_test(run.report) in draft.how_low
    assert not says(draft.which, "request.settled-sync-holds-if")
    order = work_order_create(judgement=judgement, member=by)
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = client_for(by).get(reverse(name, args=[order.pk])).content.decode()
        assert "measure every cylinder" not in page


def test_beyond_compression_an_order_does_not_say_that_cranking_shows_none(triaged, sign, run_of):
    run = with_weaker_bank(run_of(triaged, EVEN))
    draft = order_draft(sign(triaged, run, (), mechanical="no", fault_group="valve_train"))
    assert not says(draft.request, "groups.cranking-shows-no-compression")
    even = order_draft(sign(triaged, run_of(triaged, EVEN), (), mechanical="no", fault_group="air"))
    assert says(even.request, "groups.cranking-shows-no-compression")


def test_doubt_about_banks_reaches_the_verdict():
    doubted = replace(report_of(EVEN, ORDER), findings=(Finding("bank-uncertain", "warn"),))
    assert verdict_words(doubted)[1] == "watch"
    assert even_in_test(doubted) == UNSURE_IN_TEST
    assert even_in_test(report_of(EVEN, ORDER)) == EVEN_IN_TEST


def test_a_cylinder_to_watch_is_what_the_pattern_is_about(triaged, run_of):
    run = run_of(triaged, EVEN | {2: 0.84})
    assert run.report is not None
    watched = tuple(
        replace(e, call="watch") if e.cylinder == 2 else e for e in run.report.estimates
    )
    Run.objects.filter(pk=run.pk).update(result=replace(run.report, estimates=watched).to_json())
    run.refresh_from_db()
    _, badge, beside = verdict_words(run.report)
    assert badge == "watch"
    assert says_only(beside, "captures.but-watch", who="cylinder 2")
    assert RunOutcome(run, run.report, run.setup.analysis).badge[1] == "watch"
    (card,) = pattern_cards(triaged, run)
    assert (card.pattern, card.about) == (Pattern.WATCH, "cylinder 2")
    assert [t.key for t in card.tests] == ["repeat_once", "gauge_dry", "leak_down", "valves"]
