"""A run changed by hand on a job: the newest counts, what was signed and ordered before stays."""

import re
from dataclasses import replace
from uuid import uuid4

import pytest
from django.db import connection
from django.forms.models import model_to_dict
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Judgement, WorkOrder
from jobs.selectors.captures import capture_rows
from jobs.selectors.decision import decision_on, run_to_decide
from jobs.selectors.order_draft import order_draft
from jobs.selectors.pooled_captures import captures_together
from jobs.services.judgements import judgement_sign
from jobs.services.work import work_order_create
from tests.jobs.work.conftest import report_of
from tests.wording import says, wording
from traces.core.setup.edit_changes import labels_shifted, only_judged, rescaled
from traces.core.setup.manual_edits import ManualEdits
from traces.models import Capture, Reading, Run, Work
from traces.services import run_add, run_adjust, run_undo


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def first(triaged, run_of) -> Run:
    run: Run = run_of(triaged)
    Reading.objects.update(understood=run.reading.understood | {"rate_hz": 1000.0})
    return Run.objects.get(pk=run.pk)


def _judged(run: Run, low: int) -> Run:
    """Give a run the result that the worker would: this cylinder low."""
    order = run.setup.analysis.firing_order
    report = report_of(dict.fromkeys(order.sequence, 1.0) | {low: 0.57}, order)
    Run.objects.filter(pk=run.pk).update(
        state=Work.State.DONE, verdict=report.verdict, result=report.to_json()
    )
    run.refresh_from_db()
    return run


def _by_hand(run: Run, member, low: int = 4) -> Run:
    changed = labels_shifted(run.setup.analysis, 1)
    return _judged(run_adjust(member=member, run=run, changed=changed), low)


def test_the_run_by_hand_is_the_newest_and_undo_makes_the_first_count_again(
    triaged, first, by
) -> None:
    moved = _by_hand(first, by)
    (row,) = capture_rows(triaged)
    assert row.run == moved
    assert row.detail == "cylinder 4 low"
    assert run_to_decide(triaged) == moved
    undone = _judged(run_undo(member=by, run=moved), 3)
    (row,) = capture_rows(triaged)
    assert (row.run, row.detail) == (undone, "cylinder 3 low")
    assert run_to_decide(triaged) == undone


def test_until_it_is_judged_the_run_before_is_offered(triaged, first, by) -> None:
    changed = labels_shifted(first.setup.analysis, 1)
    waiting = run_adjust(member=by, run=first, changed=changed)
    assert run_to_decide(triaged) == first
    (row,) = capture_rows(triaged)
    assert (row.run, row.words) == (waiting, "queued")


def test_what_was_signed_and_ordered_before_stays(triaged, first, by) -> None:
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=first, cylinders=[3]
    )
    order = work_order_create(judgement=judgement, member=by)
    before = model_to_dict(order), Judgement.objects.values().get()
    _by_hand(first, by)
    assert (model_to_dict(WorkOrder.objects.get()), Judgement.objects.values().get()) == before
    assert WorkOrder.objects.get().judgement.run == first
    assert "By hand" not in WorkOrder.objects.get().confidence


def test_an_order_stands_on_the_run_that_was_signed(triaged, first, run_of, by) -> None:
    run_of(triaged)
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=first, cylinders=[3]
    )
    before = order_draft(judgement)
    assert "Captures together" in before.confidence
    _by_hand(first, by)
    after = order_draft(judgement)
    assert (after.confidence, after.tests, after.patterns) == (
        before.confidence,
        before.tests,
        before.patterns,
    )


def test_captures_together_take_the_newest_run(triaged, first, run_of, by) -> None:
    other = run_of(triaged)
    together = captures_together(triaged, first.capture.visit_capture.purpose)
    assert together
    assert together.pooled.candidates == ((3,),)
    moved = _by_hand(first, by)
    together = captures_together(triaged, first.capture.visit_capture.purpose)
    assert together
    assert {side.row.run for side in together.sides} == {moved, other}
    # one sync says cylinder 4, the other 3: that is told, not averaged away
    assert together.words.disagreements


def test_changes_that_a_set_up_came_in_with_are_named_too(triaged, first, by, browser) -> None:
    """From a program, or with a colleague's case: no set-up before it had none of them."""
    analysis = replace(first.setup.analysis, hand=ManualEdits(shift=1))
    run = _judged(run_add(member=by, capture=first.capture, analysis=analysis), 4)
    told = "Labels moved on by 1 place by hand."
    assert told in browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=run, cylinders=[4]
    )
    order = work_order_create(judgement=judgement, member=by)
    assert f"By hand: {told}" in order.confidence.splitlines()
    # and with what was changed on top of them
    moved = _by_hand(run, by)
    by_hand = decision_on(triaged, moved).by_hand
    assert says(
        by_hand, "manual_edits.labels-moved-hand", places=wording("manual_edits.place", count=2)
    )


def test_a_capture_counts_once_however_often_it_was_analysed(triaged, first, run_of, by) -> None:
    run_of(triaged, verdict="not judged")
    last = _by_hand(_by_hand(first, by), by)
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=last, cylinders=[4]
    )
    order = work_order_create(judgement=judgement, member=by)
    assert says(order.tests_done, "tests_done.cranking-captures-analysed-could", count=2, count_2=1)


def test_a_result_of_a_file_that_was_read_anew_is_not_signed_unawares(
    triaged, first, by, browser
) -> None:
    warning = "made before the file was read anew"
    address = reverse("jobs:decide", args=[triaged.pk])
    assert warning not in browser.get(address).content.decode()
    again = Reading.objects.create(
        capture=first.capture, state=Work.State.DONE, samples_file="derived/1/other.npy"
    )
    Capture.objects.filter(pk=first.capture_id).update(current_reading=again)
    assert warning in browser.get(address).content.decode()


def test_the_jobs_capture_page_loads_one_result_of_many_runs(triaged, first, by, browser) -> None:
    address = reverse("jobs:capture", args=[first.capture_id])
    for _ in range(3):
        _by_hand(first, by)
    with CaptureQueriesContext(connection) as asked:
        browser.get(address)
    whole = [q["sql"] for q in asked if '"traces_run"."result"' in q["sql"]]
    assert whole
    assert all("LIMIT" in sql or '"traces_run"."id" =' in sql for sql in whole)


def test_the_order_the_sheet_and_the_decision_name_what_a_hand_changed(
    triaged, first, by, browser
) -> None:
    moved = _by_hand(first, by)
    changed = only_judged(moved.setup.analysis, (0.5, 2.5))
    span = _judged(run_adjust(member=by, run=moved, changed=changed), 4)
    scaled = rescaled(span.setup.analysis, 1.0)
    last = _judged(run_adjust(member=by, run=span, changed=scaled), 4)
    told = (
        "Labels moved on by 1 place by hand; only 0.50 to 2.50 s judged, chosen by hand; "
        "scale changed from 10 to 1 mV/A by hand."
    )
    assert decision_on(triaged, last).by_hand == told
    assert decision_on(triaged, first).by_hand == ""
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert told in page
    judgement = judgement_sign(
        visit=triaged, member=by, kind="accepted", mechanical="yes", run=last, cylinders=[4]
    )
    order = work_order_create(judgement=judgement, member=by)
    assert f"By hand: {told}" in order.confidence.splitlines()
    for name in ("jobs:work-order", "jobs:work-order-print"):
        assert told in browser.get(reverse(name, args=[order.pk])).content.decode()


def test_on_the_jobs_own_page_one_stays_there(triaged, first, browser) -> None:
    address = reverse("jobs:capture", args=[first.capture_id])
    page = browser.get(address).content.decode()
    form = re.search(r'action="([^"]*/by-hand/[^"]*)">(.*?)</form>', page, re.DOTALL)
    assert form
    sent = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form[2]))
    assert sent["here"] == address
    action = form[1].replace("&amp;", "&")
    answer = browser.post(action, {"do": "on", "form_token": uuid4(), "here": sent["here"]})
    assert (answer.status_code, answer.headers["Location"]) == (302, address)
    moved = first.capture.runs.first()
    assert moved.setup.analysis.hand == ManualEdits(shift=1)
    # not judged yet: the change can be taken back without waiting for it
    page = browser.get(address).content.decode()
    assert says(page, "hand_steps.undo", undo=moved.setup.change)
    _judged(moved, 4)
    assert says(browser.get(address).content.decode(), "verdict_headline.cylinder-weak", which=4)


def test_a_mistake_made_there_leads_back_there(first, browser) -> None:
    frame = reverse("jobs:capture", args=[first.capture_id])
    address = reverse("traces:by-hand", args=[first.capture_id, first.pk])
    sent = {"do": "span", "form_token": uuid4(), "from_s": "2", "to_s": "1", "here": frame}
    answer = browser.post(f"{address}?next={frame}", sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert f'name="here" value="{frame}"' in page
    answer = browser.post(f"{address}?next={frame}", sent | {"to_s": "3"})
    assert answer.headers["Location"] == frame
