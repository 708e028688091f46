"""The customer's sheet: what it says, and what it leaves out."""

import re
from dataclasses import replace
from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Outcome, Visit
from jobs.selectors.outcome import before_after, customer_copy_of
from jobs.services.captures import capture_aside
from jobs.services.findings import NewFinding, finding_add
from jobs.services.outcome import outcome_change, outcome_of
from jobs.services.visits import visit_move
from jobs.services.work import work_order_create
from tests.jobs.work.conftest import report_of
from tests.jobs.work.repairs import address, repaired
from tests.jobs.work.test_outcome import WRITTEN
from tests.wording import named, says, says_only
from traces.models import CaptureSetup, Run, Work
from traces.selectors.clock import database_now

__all__ = ["address", "repaired"]


def test_the_customers_sheet(client_for, repaired, cast, by, run_of):
    run_of(repaired, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}, purpose="verification")
    writer = client_for(cast.writer)
    address = reverse("jobs:customer-copy", args=[repaired.pk])
    page = writer.get(address).content.decode()
    assert says(page, "outcome.still-written")
    assert "the cause, " in page
    assert "close the job" not in page
    outcome = outcome_of(visit=repaired)
    for name, value in WRITTEN.items():
        setattr(outcome, name, value)
    outcome_change(outcome=outcome, expected_version=1, member=by, fields=list(WRITTEN))
    page = writer.get(address).content.decode()
    for words in (
        "It shakes at the lights.",
        "Exhaust valve burnt.",
        "Valve replaced.",
        "A valve was burnt.",
        "In the cranking test cylinder 3 gave about 57 % of what the good ones gave.",
        "Wear that is the same in all of them cannot be seen",
        'id="bars-before"',
        'id="bars-after"',
        "close the job",
    ):
        assert words in page
    writer.post(reverse("jobs:move", args=[repaired.pk]), {"to": "closed"})
    repaired.refresh_from_db()
    assert repaired.stage == Stage.CLOSED


def test_closing_without_words_for_the_customer_is_asked_back(client_for, repaired, cast):
    Outcome.objects.create(visit=repaired, cause="x", correction="y", verified="yes")
    Visit.objects.filter(pk=repaired.pk).update(stage=Stage.HAND_BACK)
    writer, address = client_for(cast.writer), reverse("jobs:move", args=[repaired.pk])
    asked = writer.post(address, {"to": "closed"})
    assert asked.status_code == 422
    assert asked.context["form"].errors["confirmed"]
    repaired.refresh_from_db()
    assert repaired.stage == Stage.HAND_BACK
    sent = {"to": "closed", "confirmed": asked.context["form"]["confirmed"].field.widget.digest}
    assert writer.post(address, sent).status_code == 302
    repaired.refresh_from_db()
    assert repaired.stage == Stage.CLOSED
    # the sheet itself, which the PDF is set from, says what it lacks
    page = writer.get(reverse("jobs:customer-copy", args=[repaired.pk]))
    assert "".join(page.context["copy"].missing) in page.context["sheet"]


def test_a_closed_jobs_sheet_stays_when_a_capture_is_analysed_anew(
    client_for, repaired, cast, by, run_of
):
    proof = run_of(repaired, {1: 1.0, 2: 1.0, 3: 0.97, 4: 1.0}, purpose="verification")
    Outcome.objects.create(visit=repaired, cause="x", correction="y")
    for stage in (Stage.HAND_BACK, Stage.CLOSED):
        visit_move(visit=repaired, to=stage, member=by, confirmed=True)
    repaired.refresh_from_db()
    writer = client_for(cast.writer)
    sheets = [
        reverse(name, args=[repaired.pk]) for name in ("jobs:customer-copy", "jobs:before-after")
    ]

    def printed():
        # without the form tokens, which differ each time
        pages = (writer.get(sheet).content.decode() for sheet in sheets)
        return [re.sub(r"\b\w{64}\b", "", page) for page in pages]

    handed_out = printed()
    setup = CaptureSetup.objects.get(pk=proof.setup_id)
    setup.pk, setup.form_token = None, uuid4()
    setup.save()
    low = report_of({1: 1.0, 2: 1.0, 3: 0.5, 4: 1.0}, setup.analysis.firing_order)
    anew = Run.objects.create(
        capture=proof.capture,
        setup=setup,
        reading=proof.reading,
        state=Work.State.DONE,
        verdict=low.verdict,
        result=low.to_json(),
        finished_at=database_now(),
    )
    assert printed() == handed_out
    assert customer_copy_of(repaired).evidence.after == proof
    visit_move(visit=repaired, to=Stage.HAND_BACK, member=by, reason="Read anew.")
    repaired.refresh_from_db()
    assert customer_copy_of(repaired).evidence.after == anew


@pytest.mark.parametrize(
    ("verified", "sentence"),
    [
        ("", "has not been verified yet"),
        ("no", "still there"),
        ("declined", "not repaired here"),
        ("yes", "was not repeated after the repair"),
    ],
)
def test_what_is_not_known_is_said(repaired, verified, sentence):
    Outcome.objects.create(visit=repaired, cause="x", correction="y", verified=verified)
    assert sentence in " ".join(customer_copy_of(repaired).unknown)


@pytest.mark.parametrize(
    ("after", "sentence"),
    [
        ({"verdict": "not judged"}, named("repeats.test-repeated-after-repair")),
        ({"state": "failed"}, named("repeats.test-repeated-after-repair")),
        ({"state": "queued"}, named("repeats.test-repeated-after-repair-result")),
    ],
)
def test_a_repeated_test_without_a_result_is_not_told_as_not_repeated(
    repaired, run_of, after, sentence
):
    run_of(repaired, purpose="verification", **after)
    Outcome.objects.create(visit=repaired, cause="x", correction="y", verified="yes")
    told = " ".join(customer_copy_of(repaired).unknown)
    assert says(told, sentence)
    assert "was not repeated" not in told


@pytest.mark.parametrize(("second", "told"), [(0.57, False), (1.0, True)])
def test_captures_that_do_not_agree_are_told_to_the_customer(repaired, run_of, second, told):
    run_of(repaired, {1: 1.0, 2: 1.0, 3: second, 4: 1.0})
    sentences = " ".join(customer_copy_of(repaired).unknown)
    assert (says(sentences, "repeats.repeated-before-repair-test")) is told


def test_a_capture_set_aside_is_no_measurement_after_the_repair(repaired, run_of, by):
    slipped = run_of(repaired, dict.fromkeys([1, 2, 3, 4], 1.0), purpose="verification")
    capture_aside(tie=slipped.capture.visit_capture, member=by, why="The clamp slipped.")
    Outcome.objects.create(visit=repaired, cause="x", correction="y", verified="yes")
    sheet = customer_copy_of(repaired)
    assert sheet.evidence.after is None
    assert sheet.bars_after == ()
    assert says(" ".join(sheet.unknown), "repeats.test-repeated-after-repair")


def test_the_customers_bars_have_one_reading_each(repaired, client_for, by):
    """Plain hump height is the shop's second reading; its mark would want explaining."""
    run = before_after(repaired).before
    assert run is not None
    assert run.report is not None
    both = tuple(replace(e, hump_relative=0.9) for e in run.report.estimates)
    Run.objects.filter(pk=run.pk).update(result=replace(run.report, estimates=both).to_json())
    pages = {
        name: client_for(by).get(reverse(f"jobs:{name}", args=[repaired.pk])).content.decode()
        for name in ("customer-copy", "before-after")
    }
    assert "Plain hump height" in pages["before-after"]
    assert "Plain hump height" not in pages["customer-copy"]
    assert "hollow" not in pages["customer-copy"]


@pytest.mark.parametrize(("group", "told"), [("unsettled", True), ("ignition", False)])
def test_a_cause_that_nobody_settled_reads_so(
    triaged, run_of, sign, *, by, client_for, group, told
):
    even = run_of(triaged, dict.fromkeys([1, 2, 3, 4], 1.0))
    sign(triaged, even, (), mechanical="no", fault_group=group)
    address = reverse("jobs:customer-copy", args=[triaged.pk])
    assert ("Not settled yet." in client_for(by).get(address).content.decode()) is told
    Outcome.objects.create(visit=triaged, cause="Coil.")
    assert "Not settled yet." not in client_for(by).get(address).content.decode()


def test_an_unsettled_verdict_is_told_once(triaged, run_of, sign, by, client_for):
    sign(triaged, run_of(triaged, dict.fromkeys([1, 2, 3, 4], 1.0)), (), mechanical="unsure")
    assert customer_copy_of(triaged).result
    page = client_for(by).get(reverse("jobs:customer-copy", args=[triaged.pk])).content.decode()
    assert "Not settled yet." not in page


def test_bars_without_cylinder_numbers_are_told_to_have_none(repaired, run_of):
    run_of(repaired, dict.fromkeys([1, 2, 3, 4], 1.0), purpose="verification")
    known = set(customer_copy_of(repaired).unknown)
    evidence = before_after(repaired)
    said = []
    for run in (evidence.before, evidence.after):
        assert run is not None
        assert run.report is not None
        nameless = tuple(replace(e, cylinder=None) for e in run.report.estimates)
        unnamed = replace(run.report, cylinders_known=False, estimates=nameless)
        Run.objects.filter(pk=run.pk).update(result=unnamed.to_json())
        said.append(set(customer_copy_of(repaired).unknown) - known)
    # Beside bars that have cylinder numbers it is said of the others alone.
    (of_one,), (of_both,) = said
    assert says(of_one, "outcome.one-two-tests-does")
    assert not says(of_both, "outcome.one-two-tests-does")


def test_an_unsettled_verdict_reads_so_until_the_gauge_decides(triaged, run_of, sign, by, cast):
    judgement = sign(triaged, run_of(triaged, candidates=[(3,), (4,)], known=False), [3, 4])
    who = "One of cylinders 3 and 4"
    assert says(
        customer_copy_of(triaged).result,
        "customer_words.built-about-compression-good",
        who=who,
        much="57 %",
    )
    order = work_order_create(judgement=judgement, member=by)
    for cylinder, outcome, kpa in ((3, "good", 1150), (4, "bad", 620)):
        found = NewFinding(cylinder, "gauge_dry", outcome, kpa)
        finding_add(order=order, member=cast.mechanic, found=found)
    # 620 of 1150 kPa; the capture's 57 % is of the cranking current and no compression
    result = customer_copy_of(triaged).result
    assert result.startswith("By the gauge, cylinder 4 reached 54 % ")
    assert "57 %" not in result


def test_no_percentage_of_a_cylinder_the_capture_calls_good(triaged, run_of, sign):
    sign(triaged, run_of(triaged), [1], kind="overruled", reason="Gauge.")
    result = customer_copy_of(triaged).result
    assert "%" not in result
    assert says(result, "customer_words.test-itself-pointed", sets="cylinder 3")


def test_no_compression_fault_signed_on_an_uneven_capture_is_told(triaged, run_of, sign):
    given = {"mechanical": "no", "fault_group": "ignition", "reason": "Coil."}
    sign(triaged, run_of(triaged), [2], kind="overruled", **given)
    result = customer_copy_of(triaged).result
    assert says(result, "customer_words.cranking-test-cylinders-compared", low="cylinder 3")
    assert "ignition" in result
    assert "cylinder 2" in result


def test_how_often_the_test_was_made_is_said(repaired, run_of):
    assert says_only(customer_copy_of(repaired).repeats, "repeats.test-made-once")
    run_of(repaired, {1: 1.0, 2: 1.0, 3: 0.5, 4: 1.0})
    run_of(repaired, {1: 1.0, 2: 1.0, 3: 0.5, 4: 1.0}, verdict="not judged")
    run_of(repaired, purpose="verification")
    told = customer_copy_of(repaired).repeats
    assert "made 2 times" in told
    assert says(told, "repeats.repeated-once-after-repair")


def test_nothing_is_said_of_a_repair_that_was_not_made(repaired):
    before = customer_copy_of(repaired).unknown
    Outcome.objects.create(visit=repaired, cause="x")
    assert customer_copy_of(repaired).unknown == before
    Outcome.objects.filter(visit=repaired).update(correction="y")
    told = " ".join(customer_copy_of(repaired).unknown)
    assert says(told, "outcome.repair-not-been-verified")
    assert "was not repeated" in told
