"""Several captures of a job: pooled, named where they differ, set aside; on pages and papers."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from engines.core.firing import FiringOrder
from jobs.models import TimelineEvent, Vehicle
from jobs.selectors.captures import capture_rows
from jobs.selectors.decision import run_to_decide
from jobs.selectors.order_draft import order_draft
from jobs.selectors.outcome import before_after
from jobs.selectors.pooled_captures import captures_together, together_json
from jobs.selectors.repeats import judged_runs
from jobs.selectors.work import visit_work
from jobs.services.captures import capture_aside
from jobs.services.judgements import judgement_sign
from tests.jobs.work.conftest import report_of
from tests.wording import says, says_only, wording
from traces.models import CaptureSetup, Run

FOUR = {1: 1.0, 2: 1.0, 4: 1.0}


def three_at(figure):
    return {**FOUR, 3: figure}


@pytest.fixture
def pair(triaged, run_of):
    """Two captures that agree on cylinder 3."""
    return [run_of(triaged, three_at(0.57)), run_of(triaged, three_at(0.60))]


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def together(visit):
    """Return the captures before the repair, which there must be, together."""
    found = captures_together(visit)
    assert found is not None
    return found


def roles(found):
    return [side.role for side in found.sides]


def test_one_capture_has_nothing_beside_it(triaged, run_of):
    run_of(triaged)
    assert captures_together(triaged) is None


def test_two_captures_are_pooled(triaged, pair):
    found = together(triaged)
    assert found.count == 2
    assert found.pooled.by_cylinder[3].relative == pytest.approx(0.585)
    assert roles(found) == ["pooled", "pooled"]
    assert says_only(found.words.verdict, "pooling_words.together-low", cylinders="cylinder 3")
    assert [line.name for line in found.lines] == ["1", "3", "4", "2"]


def test_the_newest_run_of_a_capture_counts(triaged, pair, by):
    again = CaptureSetup.objects.create(
        capture=pair[1].capture, settings=pair[1].setup.settings, created_by=by
    )
    report = report_of(three_at(0.50), FiringOrder.parse("1-3-4-2"))
    Run.objects.create(
        capture=pair[1].capture,
        setup=again,
        reading=pair[1].reading,
        state="done",
        verdict="uneven",
        result=report.to_json(),
    )
    assert together(triaged).lines[1].place.figures == (0.57, 0.50)


def _same_recording(*runs):
    for run in runs:
        run.reading.sketch = list(range(1, 97))
        run.reading.save(update_fields=["sketch"])


def test_one_recording_sent_twice_counts_once(triaged, pair, run_of, browser):
    """A file cut or written anew is no second crank: it would make the figures look repeatable."""
    _same_recording(*pair)
    assert captures_together(triaged) is None
    rows = capture_rows(triaged)
    assert [row.same_as and row.same_as.capture_id for row in rows] == [None, pair[0].capture_id]
    assert run_to_decide(triaged) == pair[0]
    run_of(triaged, three_at(0.55))
    assert together(triaged).count == 2
    assert together(triaged).sides[1].is_pooled is False
    assert judged_runs(triaged, "diagnosis").count() == 2


def test_the_signed_capture_is_nobodys_copy(triaged, pair):
    _same_recording(*pair)
    rows = capture_rows(triaged, signed=pair[1])
    assert [row.same_as and row.same_as.capture_id for row in rows] == [pair[1].capture_id, None]


def test_of_one_recording_the_judged_file_counts(triaged, pair):
    """A cut that is judged stands for the whole that was not, or that was set aside."""
    _same_recording(*pair)
    whole, cut = pair
    whole.verdict = "not judged"
    whole.result = report_of(
        three_at(1.0), FiringOrder.parse("1-3-4-2"), verdict="not judged"
    ).to_json()
    whole.save(update_fields=["verdict", "result"])
    rows = capture_rows(triaged)
    assert [row.same_as and row.same_as.capture_id for row in rows] == [cut.capture_id, None]
    assert list(judged_runs(triaged, "diagnosis")) == [cut]


def test_a_proof_set_aside_leaves_its_cut(triaged, pair, by):
    _same_recording(*pair)
    capture_aside(tie=pair[0].capture.visit_capture, member=by, why="Charger was on.")
    assert list(judged_runs(triaged, "diagnosis")) == [pair[1]]


def test_what_was_recorded_before_the_repair_proves_nothing(triaged, pair):
    """The same recording under another name is not the repeated test."""
    tie = pair[1].capture.visit_capture
    tie.purpose = "verification"
    tie.save(update_fields=["purpose"])
    assert before_after(triaged).after == pair[1]
    _same_recording(*pair)
    assert before_after(triaged).after is None


def test_what_is_left_out_says_why(triaged, pair, run_of, by):
    run_of(triaged, verdict="not judged")
    other = run_of(triaged, three_at(0.4))
    capture_aside(tie=other.capture.visit_capture, member=by, why="The clamp slipped.")
    running = run_of(triaged, state="running")
    found = together(triaged)
    refused, aside, still = roles(found)[2:]
    assert (refused, still) == ("not judged", "running")
    assert says_only(aside, "pooled_captures.set-aside", aside_why="The clamp slipped.")
    assert found.count == 2
    assert not found.has(running.capture_id)


def test_another_firing_order_stays_out(triaged, pair, run_of):
    wrong = run_of(triaged, three_at(0.57))
    wrong.setup.settings["firing_order"] = "1-2-4-3"
    wrong.setup.save()
    found = together(triaged)
    assert roles(found) == ["pooled", "pooled", wording("pooled_captures.set-up-another-firing")]


def test_before_and_after_the_repair_are_kept_apart(triaged, pair, run_of, by):
    for figure in (0.98, 0.99):
        run_of(triaged, three_at(figure), purpose="verification")
    before, after = visit_work(by, triaged).together
    assert not before.after_repair
    assert before.pooled.by_cylinder[3].call == "suspect"
    assert after.after_repair
    assert says_only(after.words.verdict, "pooling_words.no-weak-cylinder-together")


def test_a_drive_motors_captures_are_not_pooled(triaged, pair):
    triaged.vehicle.drive = Vehicle.Drive.TRACTION
    triaged.vehicle.save()
    assert captures_together(triaged) is None


def test_the_pages_show_them(triaged, browser, pair, cast, client_for):
    addresses = [
        reverse("jobs:visit", args=[triaged.pk]),
        reverse("jobs:decide", args=[triaged.pk]),
        reverse("jobs:capture", args=[pair[0].capture_id]),
    ]
    for address in addresses:
        page = browser.get(address).content.decode()
        assert "Captures together" in page
        assert says(page, "pooling_words.together-low", cylinders="cylinder 3")
        assert "2 captures agree" in page
    page = client_for(cast.mechanic).get(addresses[0]).content.decode()
    assert says(page, "pooling_words.together-low", cylinders="cylinder 3")


def test_a_disagreement_is_named_with_the_conditions(triaged, run_of, browser):
    cold, warm = run_of(triaged, three_at(0.62)), run_of(triaged, three_at(0.97))
    CaptureSetup.objects.filter(pk=cold.setup_id).update(temperature="cold", throttle="open")
    CaptureSetup.objects.filter(pk=warm.setup_id).update(temperature="warm", throttle="open")
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert "do not agree" in page
    assert says(
        page,
        "pooling_words.comes-goes-conditions-differ",
        cylinder="Cylinder 3",
        differences="temperature cold and warm",
    )
    assert says(page, "pooling_words.in-the", share=62, nth="first (cold, throttle held open)")
    assert says(page, "pooling_words.in-the", share=97, nth="second (warm, throttle held open)")


def test_the_verdict_keeps_what_was_seen_together(triaged, pair, by):
    judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=pair[1], cylinders=[3]
    )
    kept = TimelineEvent.objects.get(kind="judgement").data["together"]
    assert kept["cylinders"][1]["relative"] == pytest.approx(0.585)
    assert [c["pooled"] for c in kept["captures"]] == [True, True]


def test_the_work_order_carries_the_pooled_figure(triaged, pair, by, run_of, browser):
    signed = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=pair[1], cylinders=[3]
    )
    lines = order_draft(signed).confidence.splitlines()
    assert says(lines[0], "request.good-cylinders-95-interval", whose="Cylinder 3", relative="60 %")
    assert says(lines[2], "request.captures-pooled-engine-cycles", captures=2, cycles="18")
    assert ": cylinder 3 " in lines[2]
    assert lines[2].endswith("They agree.")
    page = browser.get(reverse("jobs:work-order-new", args=[triaged.pk])).content.decode()
    assert "2 captures pooled" in page
    run_of(triaged, three_at(0.99))
    against = order_draft(signed).confidence.splitlines()[2]
    assert says(against, "request.they-do-not-agree")
    for name, percent in (("first", 57), ("second", 60), ("third", 99)):
        assert says(against, "pooling_words.in-the", share=percent, nth=name)


def test_one_capture_leaves_the_work_order_as_it_was(signed):
    assert len(order_draft(signed).confidence.splitlines()) == 2


def test_setting_aside_is_told_and_taken_back(triaged, pair, browser):
    address = reverse("jobs:capture-aside", args=[pair[0].capture_id])
    refused = browser.post(address, {"why": " "}, follow=True).content.decode()
    assert says(refused, "evidence.say-why-capture-shall")
    browser.post(address, {"why": "Throttle was shut."})
    assert captures_together(triaged) is None
    page = browser.get(reverse("jobs:capture", args=[pair[0].capture_id])).content.decode()
    assert says(page, "capture.capture-set-aside-counts")
    assert "Throttle was shut." in page
    assert says(page, "aside.let-capture-count-again")
    card = browser.get(reverse("jobs:visit", args=[triaged.pk])).content.decode()
    assert "set aside" in card
    browser.post(address, {"again": "on"})
    assert together(triaged).count == 2
    words = list(TimelineEvent.objects.filter(kind="capture").values_list("words", flat=True))
    aside, again = words
    which = {"capture": pair[0].capture}
    assert says_only(aside, "captures.set-capture-aside", why="Throttle was shut.", **which)
    assert says_only(again, "captures.took-capture-again", **which)


def test_one_set_aside_is_not_offered_for_signing(triaged, pair, browser, by):
    capture_aside(tie=pair[1].capture.visit_capture, member=by, why="Slipped.")
    page = browser.get(reverse("jobs:decide", args=[triaged.pk]))
    assert page.context["run"] == pair[0]


def test_a_judged_capture_is_offered_before_a_newer_one_that_is_not(triaged, pair, run_of, browser):
    run_of(triaged, verdict="not judged")
    page = browser.get(reverse("jobs:decide", args=[triaged.pk]))
    assert page.context["run"] == pair[1]


def test_a_closed_job_sets_nothing_aside(triaged, pair, by):
    type(triaged).objects.filter(pk=triaged.pk).update(stage="closed")
    with pytest.raises(ValidationError, match="closed"):
        capture_aside(tie=pair[0].capture.visit_capture, member=by, why="x")


def test_words_of_people_are_no_markup(triaged, pair, by, browser):
    capture_aside(tie=pair[0].capture.visit_capture, member=by, why="<b>x</b>")
    page = browser.get(reverse("jobs:capture", args=[pair[0].capture_id])).content.decode()
    assert "<b>x</b>" not in page


def test_as_plain_values(triaged, pair):
    found = together_json(together(triaged))
    assert found is not None
    assert found["agree"] is True
    assert found["candidates"] == [[3]]
    assert found["cylinders"][1]["cylinder"] == 3
    assert found["cylinders"][1]["figures"] == [0.57, 0.6]
    assert together_json(None) is None


@pytest.fixture
def against(triaged, run_of):
    """An even capture, and one with two low cylinders that settles no numbers."""
    even = dict.fromkeys((1, 2, 3, 4), 1.0)
    known = run_of(triaged, even)
    return known, run_of(triaged, even | {1: 0.39, 4: 0.39}, known=False)


def test_captures_that_contradict_each_other_say_so_by_name(triaged, against, browser):
    found = together(triaged)
    title = str(against[1].capture)
    assert title in found.words.verdict
    assert "no weak cylinder" not in found.words.verdict
    assert (found.is_pool, found.single) == (False, str(against[0].capture))
    assert roles(found) == ["taken by itself", "contradicts"]
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert title in page
    assert "Repeats within" not in page
    assert ">Pooled<" not in page
    values = together_json(found)
    assert values is not None
    assert [c["pooled"] for c in values["captures"]] == [False, False]
    assert values["repeat_sd"] is None
    assert {c["repeat_sd"] for c in values["cylinders"]} == {None}


def test_a_single_capture_is_named_on_the_order_not_pooled(triaged, against, by):
    signed = judgement_sign(
        visit=triaged,
        member=by,
        kind="overruled",
        mechanical="yes",
        run=against[0],
        cylinders=[3],
        reason="The other capture shows it.",
    )
    (line,) = [
        line
        for line in order_draft(signed).confidence.splitlines()
        if line.startswith("Captures together: ")
    ]
    assert "pooled" not in line
    assert says(line, "request.itself-engine-cycles", single=against[0].capture, cycles=9)
    assert f"({against[1].capture})" in line


def test_an_interval_that_holds_everything_is_not_shown(triaged, run_of, browser):
    for figure in (0.62, 0.97):
        run_of(triaged, three_at(figure))
    found = together(triaged)
    assert [line.has_interval for line in found.lines] == [True, False, True, True]
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert page.count(wording("together.these-captures-do-not")) == 1


def test_more_captures_take_no_more_queries(
    triaged, pair, run_of, browser, django_assert_max_num_queries
):
    address = reverse("jobs:visit", args=[triaged.pk])
    with django_assert_max_num_queries(60) as before:
        browser.get(address)
    for _ in range(3):
        run_of(triaged, three_at(0.58))
    with django_assert_max_num_queries(len(before)):
        browser.get(address)


def test_the_table_calls_a_high_cylinder_high(triaged, run_of, browser):
    for figure in (1.27, 1.3):
        run_of(triaged, three_at(figure))
    found = together(triaged)
    assert {line.name: line.call for line in found.lines}["3"] == "high"
    kept = together_json(found)
    assert kept is not None
    assert kept["cylinders"][1]["call"] == "sound"
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert page.count('badge-watch">high<') == 1
