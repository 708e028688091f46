"""What misfires and patterns suggest: on the capture, the verdict, the work order, in the API."""

import pytest
from django.urls import reverse

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from engines.services import EngineInput, access_keep, engine_create
from jobs.core.cautions import LIQUID, TIMING_CAUTION
from jobs.core.patterns import Pattern
from jobs.core.wanted_test_texts import STOP_HIGH_ANY
from jobs.selectors.decision import decision_on
from jobs.selectors.order_draft import order_draft
from jobs.selectors.patterns import TIMING_DOUBTED
from jobs.services.triage import codes_add, misfires_set, triage_change, triage_of
from jobs.services.work import work_order_create
from tests.jobs.work.conftest import report_of
from tests.wording import says, says_only, wording
from traces.core.findings.finding_texts import finding
from traces.core.report.results import Report

OPEN = {"candidates": [(1,), (4,)], "known": False}
LOW_ONE = {1: 0.6, 2: 1.0, 3: 1.0, 4: 1.0}
EVEN = dict.fromkeys(range(1, 5), 1.0)


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def open_run(triaged, run_of, by):
    """A capture that fits cylinder 1 and cylinder 4, on a job with misfires on 4."""
    codes_add(visit=triaged, text="P0304 stored\nP0300 pending", member=by)
    misfires_set(visit=triaged, counts={1: 3, 2: 8, 3: 7, 4: 112}, member=by)
    return run_of(triaged, LOW_ONE, **OPEN)


def pages(run, visit):
    return [
        reverse("jobs:capture", args=[run.capture_id]),
        reverse("jobs:decide", args=[visit.pk]),
    ]


def patterns(visit, run):
    return [card.pattern for card in decision_on(visit, run).patterns]


def test_misfires_rank_the_sets_on_the_pages(open_run, triaged, browser, cast, client_for):
    for address in pages(open_run, triaged):
        page = browser.get(address).content.decode()
        assert "inference, not measurement" in page
        assert says(page, "candidate_ranking.job-point-clearly", cylinders="cylinder 4")
        assert says(page, "candidate_ranking.counts", own=112, total=130, listed="cylinder 4")
        assert says(page, "candidate_ranking.no-code-names", cylinders="cylinder 1")
        assert says(page, "candidate_ranking.counts", own=3, total=130, listed="cylinder 1")
        assert says(page, "ranking.cylinder-also-misfires-want")
    mechanic = client_for(cast.mechanic).get(pages(open_run, triaged)[0]).content.decode()
    assert says(mechanic, "candidate_ranking.job-point-clearly", cylinders="cylinder 4")


def test_the_report_stays_as_it_was(open_run, triaged, browser):
    before = open_run.result
    browser.get(pages(open_run, triaged)[1])
    open_run.refresh_from_db()
    assert open_run.result == before
    assert open_run.report.candidates == ((1,), (4,))


def test_without_misfires_or_with_one_set_nothing_is_ranked(triaged, run_of, browser, by):
    run = run_of(triaged, LOW_ONE, **OPEN)
    assert decision_on(triaged, run).ranking is None
    assert not says(
        browser.get(pages(run, triaged)[1]).content.decode(), "ranking.what-misfires-say"
    )
    misfires_set(visit=triaged, counts={1: 3, 4: 90}, member=by)
    assert decision_on(triaged, run_of(triaged)).ranking is None


def test_the_work_order_carries_the_inference_and_the_gauge_begins_there(
    open_run, triaged, by, sign
):
    signed = sign(triaged, open_run, cylinders=[1, 4])
    order = work_order_create(judgement=signed, member=by)
    lines = order.confidence.splitlines()
    assert says_only(lines, "candidate_ranking.job-point-clearly", cylinders="cylinder 4")
    gauge = next(t for t in order.tests if t["key"] == "gauge_dry")
    assert says(gauge["words"], "tests_wanted.begin-misfires", turn="cylinder 4, then 1")
    assert order.patterns[0]["pattern"] == "open"


def test_the_misfires_of_the_signing_day_stay_on_the_order(open_run, triaged, by, browser, sign):
    signed = sign(triaged, open_run, cylinders=[1, 4])
    order = work_order_create(judgement=signed, member=by)
    misfires_set(visit=triaged, counts={1: 300, 4: 0}, member=by)
    page = browser.get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    assert says(page, "candidate_ranking.job-point-clearly", cylinders="cylinder 4")


def test_one_low_cylinder_on_every_page(triaged, run_of, browser):
    run = run_of(triaged)
    for address in pages(run, triaged):
        page = browser.get(address).content.decode()
        assert says(page, "patterns.what-pattern-suggests")
        assert f"{wording('jobs/patterns:one.name')}: cylinder 3" in page
        assert says(page, "work.what-would-rule-out")
        assert "Source: common practice" in page


def test_neighbours_of_this_engine_on_order_and_sheet(triaged, run_of, browser, by, sign):
    run = run_of(triaged, {1: 0.6, 2: 0.65, 3: 1.0, 4: 1.0})
    signed = sign(triaged, run, cylinders=[1, 2])
    order = work_order_create(judgement=signed, member=by)
    assert [card["pattern"] for card in order.patterns] == ["adjacent"]
    assert "neighbour" in [t["key"] for t in order.tests]
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[order.pk])).content.decode()
        assert says(page, "jobs/patterns:adjacent.reading")


def test_neighbours_come_before_companions_and_lost_coolant_before_all(
    triaged, run_of, browser, sign
):
    run = run_of(triaged, {1: 1.0, 2: 0.6, 3: 0.6, 4: 1.0})
    assert patterns(triaged, run) == [Pattern.ADJACENT, Pattern.COMPANIONS]
    assert decision_on(triaged, run).patterns[0].tests[0].key == "repeat_once"
    triaged.complaint.words = "Loses coolant."
    triaged.complaint.save()
    signed = sign(triaged, run, cylinders=[2, 3])
    keys = [t.key for t in order_draft(signed).tests]
    assert keys[:3] == ["coolant", "leak_down", "neighbour"]
    assert "sync" not in keys


def test_an_even_engine_with_misfires(triaged, run_of, by):
    run = run_of(triaged, EVEN)
    assert patterns(triaged, run) == [Pattern.NONE]
    codes_add(visit=triaged, text="P0302 stored", member=by)
    assert patterns(triaged, run) == [Pattern.EVEN_MISFIRES]


def test_a_fast_even_crank_is_a_hint_with_its_reason(triaged, run_of, by, browser, sign):
    run = run_of(triaged, EVEN)
    triage = triage_of(visit=triaged)
    triage.cranks = "fast"
    triage_change(triage=triage, expected_version=triage.version, member=by)
    page = browser.get(pages(run, triaged)[1]).content.decode()
    assert says(page, "jobs/patterns:fast_even.name")
    assert says(page, "patterns.cranking-sounds-fast")
    signed = sign(triaged, run, kind="overruled", reason="Fast.", cylinders=[])
    assert [t.key for t in order_draft(signed).tests][:2] == ["timing", "bind"]


def test_a_high_cylinder_stops_before_all_else(triaged, run_of):
    run = run_of(triaged, {1: 0.6, 2: 1.3, 3: 1.0, 4: 1.0})
    assert patterns(triaged, run) == [Pattern.HIGH, Pattern.ONE]


@pytest.fixture
def changing_run(triaged, run_of):
    """A capture in which cylinder 4 is low in some cycles, by its single cycles."""

    def make(cycles, code, known=True):
        run = run_of(triaged, EVEN, known=known)
        report = report_of(EVEN, FiringOrder.parse("1-3-4-2"), known=known)
        steady = (1.0,) * len(cycles)
        estimates = tuple(
            type(e)(
                e.position,
                e.cylinder,
                e.relative,
                e.low,
                e.high,
                e.call,
                per_cycle=cycles if e.position == 3 else steady,
            )
            for e in report.estimates
        )
        found = finding(code, which="Cylinder 4", low=3, cycles=len(cycles))
        run.result = Report(
            "even", estimates, candidates=((),), cylinders_known=known, findings=(found,)
        ).to_json()
        run.save()
        return run

    return make


def test_single_cycles_name_the_cylinder(triaged, changing_run):
    now_and_then = changing_run((1.0, 0.5, 1.0, 0.5, 1.0, 1.0, 0.5, 1.0), "comes-and-goes")
    (card,) = decision_on(triaged, now_and_then).patterns
    assert (card.pattern, card.about) == (Pattern.COMES_AND_GOES, "cylinder 4")
    assert card.tests[0].key == "repeat"
    at_first = changing_run((0.5, 0.5, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0), "low-at-first")
    (card,) = decision_on(triaged, at_first).patterns
    assert (card.pattern, card.about) == (Pattern.LOW_AT_FIRST, "cylinder 4")


def test_single_cycles_without_numbers(triaged, changing_run):
    run = changing_run((1.0, 0.5, 1.0, 0.5, 1.0, 1.0, 0.5, 1.0), "comes-and-goes", known=False)
    (card,) = decision_on(triaged, run).patterns
    assert (card.pattern, card.about) == (Pattern.COMES_AND_GOES, "")


def test_captures_that_disagree_come_and_go(triaged, run_of):
    run_of(triaged, {**EVEN, 3: 0.6})
    run = run_of(triaged, {**EVEN, 3: 0.95})
    (card,) = decision_on(triaged, run).patterns
    assert (card.pattern, card.about) == (Pattern.COMES_AND_GOES, "cylinder 3")


def test_a_capture_that_was_not_judged_suggests_nothing(triaged, run_of):
    assert patterns(triaged, run_of(triaged, verdict="not judged")) == []


def test_a_decision_without_a_capture_has_its_pattern(triaged, sign):
    signed = sign(triaged, kind="without", reason="x", cylinders=[2])
    assert [c.pattern for c in order_draft(signed).patterns] == [Pattern.ONE]


@pytest.mark.parametrize("open_", [{"candidates": [()], "known": False}, OPEN])
def test_something_high_without_a_number_stops_the_cranking_too(triaged, run_of, open_, sign):
    """Liquid locks an engine whichever cylinder holds it: common practice."""
    low = 0.6 if open_ is OPEN else 1.0
    run = run_of(triaged, {1: low, 2: 1.35, 3: 1.0, 4: 1.0}, **open_)
    assert patterns(triaged, run)[0] is Pattern.HIGH
    signed = sign(
        triaged, run, kind="overruled", reason="High.", cylinders=[1, 4] if open_ is OPEN else []
    )
    draft = order_draft(signed)
    assert [t.key for t in draft.tests][:2] == ["stop", "borescope"]
    assert draft.tests[0].words == STOP_HIGH_ANY.words
    assert draft.cautions[1] == LIQUID
    assert says(draft.request, "request.look-liquid-every-cylinder")


def test_codes_with_a_failure_type_put_the_timing_in_doubt(triaged, run_of, by, sign):
    codes_add(visit=triaged, text="P0016-76 stored", member=by)
    signed = sign(triaged, run_of(triaged))
    draft = order_draft(signed)
    assert [t.key for t in draft.tests][:2] == ["timing", "bind"]
    assert TIMING_CAUTION in draft.cautions
    assert says(draft.request, "request.valve-timing-first-bar")


def test_a_code_of_heat_asks_for_the_cooling_system_first(triaged, run_of, by, sign):
    # P0217: engine too hot (SAE J2012)
    codes_add(visit=triaged, text="P0217 stored", member=by)
    signed = sign(triaged, run_of(triaged))
    assert [t.key for t in order_draft(signed).tests][:2] == ["coolant", "leak_down"]


def test_a_code_of_a_bank_leans_by_the_banks_of_this_engine(
    cast, take_in, run_of, by, six_of_two_banks
):
    visit = take_in(cast.writer, engine=six_of_two_banks)
    codes_add(visit=visit, text="P0430 stored", member=by)
    run = run_of(visit, dict.fromkeys(range(1, 7), 1.0) | {1: 0.6}, candidates=[(1,), (4,)])
    found = decision_on(visit, run).ranking
    assert found is not None
    assert (found.strength, found.order) == ("leaning", (4, 1))


@pytest.fixture
def six_of_two_banks(cast):
    order = FiringOrder.parse("1-2-3-4-5-6")
    return engine_create(
        member=cast.diagnostician,
        given=EngineInput(
            name="Six",
            layout="V6",
            order=order,
            places=places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING),
            numbering="",
            fuel="petrol",
            source="handbook",
        ),
    )


@pytest.fixture
def slow_six(cast, take_in, by, six_of_two_banks):
    """A job on a six whose rear bank takes 90 minutes to reach; 60 are authorised."""
    access_keep(member=by, engine=six_of_two_banks, minutes={"A": 90, "B": 15})
    visit = take_in(cast.writer, engine=six_of_two_banks)
    visit.complaint.authorised_minutes = 60
    visit.complaint.save()
    return visit


def test_access_of_this_engine_is_in_the_draft(slow_six, run_of, by, browser, sign):
    visit = slow_six
    run = run_of(visit, dict.fromkeys(range(1, 7), 1.0) | {1: 0.6})
    signed = sign(visit, run, cylinders=[1])
    order = work_order_create(judgement=signed, member=by)
    leak = next(t for t in order.tests if t["key"] == "leak_down")
    assert says(leak["words"], "plug_access.good-cylinder-min", number=2, minutes=15)
    assert order.scope_minutes == 60
    assert "about 90 minutes" in order.scope
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[order.pk])).content.decode()
        assert "90 min" in page.replace("90 minutes: agree", "")


def test_recent_work_on_a_leaking_cooling_system_counts(triaged, run_of, sign):
    triaged.complaint.recent_work = "Radiator replaced, it was leaking coolant."
    triaged.complaint.save()
    signed = sign(triaged, run_of(triaged))
    assert order_draft(signed).tests[0].key == "coolant"


@pytest.mark.parametrize("code", ["no-compression", "hump-mismatch", "sync-doubled"])
@pytest.mark.parametrize("kind", ["overruled", "without"])
def test_a_capture_refused_for_want_of_compressions_cranks_no_more(
    triaged, run_of, code, kind, sign
):
    """The finding says not to crank again; so does the order made after it."""
    refused = finding(code, ripple="1", cylinders=4, why="")
    assert refused.code in TIMING_DOUBTED
    assert "do not crank" in refused.remedy
    run = run_of(triaged, verdict="not judged")
    run.result = Report("not judged", (), findings=(refused,)).to_json()
    run.save()
    signed = sign(triaged, run if kind == "overruled" else None, kind=kind, reason="By ear.")
    draft = order_draft(signed)
    assert [t.key for t in draft.tests][:2] == ["timing", "bind"]
    assert TIMING_CAUTION in draft.cautions
    assert says(draft.request, "request.valve-timing-first-bar")


def test_a_capture_refused_for_its_recording_puts_no_timing_in_doubt(triaged, run_of, sign):
    run = run_of(triaged, verdict="not judged")  # clipped
    signed = sign(triaged, run, kind="overruled", reason="By ear.")
    assert "timing" not in [t.key for t in order_draft(signed).tests]
