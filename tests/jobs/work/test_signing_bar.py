"""The bar of a capture's page: what each choice signs, and why a capture counts less."""

from dataclasses import replace

import pytest
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Visit, VisitCapture
from jobs.selectors.decision import decision_on
from jobs.selectors.signing import CaptureList, capture_list, signing_choices
from jobs.services.captures import capture_aside
from tests.jobs.work.test_beside_even import with_weaker_bank
from tests.wording import says_only
from traces.models import Run

EVEN = {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def choices_of(visit, run) -> list[tuple[str, str, bool]]:
    return [(c.found, c.form, c.is_verdict) for c in signing_choices(decision_on(visit, run))]


def test_what_contradicts_a_weak_cylinder_needs_a_reason(triaged, run_of):
    assert choices_of(triaged, run_of(triaged)) == [
        ("yes", "accept", True),
        ("no", "own", False),
        ("unsure", "accept", False),
        ("overrule", "own", False),
    ]


def test_what_contradicts_even_cylinders_needs_a_reason(triaged, run_of):
    assert choices_of(triaged, run_of(triaged, EVEN)) == [
        ("yes", "own", False),
        ("no", "accept", True),
        ("unsure", "accept", False),
        ("overrule", "own", False),
    ]


def test_a_weaker_bank_leaves_the_choice_to_the_person(triaged, run_of):
    choices = choices_of(triaged, with_weaker_bank(run_of(triaged, EVEN)))
    assert not any(is_verdict for *_, is_verdict in choices)
    assert choices[0] == ("yes", "accept", False)


def test_what_was_not_judged_is_decided_in_own_words(triaged, run_of):
    assert choices_of(triaged, run_of(triaged, verdict="not judged")) == [
        ("yes", "own", False),
        ("no", "own", False),
        ("unsure", "own", False),
    ]


@pytest.mark.parametrize(
    ("found", "form"), [("yes", "accept"), ("unsure", "accept"), ("no", "own")]
)
def test_a_link_of_the_bar_opens_its_form_filled_in(browser, triaged, run_of, found, form):
    run = run_of(triaged)
    address = reverse("jobs:capture", args=[run.capture_id])
    page = browser.get(address, {"found": found})
    assert page.context[f"opens_{form}"] is True
    assert page.context[form]["mechanical"].value() == found
    other = "own" if form == "accept" else "accept"
    assert f"opens_{other}" not in page.context
    plain = browser.get(address)
    assert "opens_accept" not in plain.context
    assert "opens_own" not in plain.context


@pytest.mark.parametrize("found", ["overrule", "else", ""])
def test_a_link_without_an_answer_fills_nothing_in(browser, triaged, run_of, found):
    run = run_of(triaged)
    page = browser.get(reverse("jobs:capture", args=[run.capture_id]), {"found": found})
    assert ("opens_own" in page.context) is (found == "overrule")
    assert not page.context["own"]["mechanical"].value()
    assert page.context["accept"]["mechanical"].value() == "yes"


def test_only_who_may_sign_gets_the_choices(triaged, run_of, cast, client_for):
    run = run_of(triaged)
    address = reverse("jobs:capture", args=[run.capture_id])
    assert "choices" in client_for(cast.diagnostician).get(address).context
    for member in (cast.mechanic, cast.writer):
        answer = client_for(member).get(address, {"found": "yes"})
        assert "choices" not in answer.context
        assert "data-found" not in answer.content.decode()


def test_a_closed_job_and_a_capture_after_the_repair_offer_none(browser, triaged, run_of):
    after = run_of(triaged, EVEN, purpose=VisitCapture.Purpose.VERIFICATION)
    address = reverse("jobs:capture", args=[after.capture_id])
    assert "choices" not in browser.get(address).context
    run = run_of(triaged)
    Visit.objects.filter(pk=triaged.pk).update(stage=Stage.CLOSED)
    address = reverse("jobs:capture", args=[run.capture_id])
    assert "choices" not in browser.get(address, {"found": "yes"}).context


def test_a_capture_set_aside_offers_none(browser, triaged, run_of, by):
    run = run_of(triaged)
    capture_aside(tie=run.capture.visit_capture, member=by, why="The clamp slipped.")
    answer = browser.get(reverse("jobs:capture", args=[run.capture_id]), {"found": "yes"})
    assert "choices" not in answer.context
    assert "data-found" not in answer.content.decode()


def listed(visit, shown: Run, signed=None) -> CaptureList:
    tie = shown.capture.visit_capture
    found = capture_list(visit, tie, decision_on(visit, shown).together, signed)
    assert found is not None
    return found


def _wider(run: Run) -> None:
    """Give a run's figures intervals of 30 points."""
    report = run.report
    assert report is not None
    estimates = tuple(
        replace(e, low=e.relative - 0.15, high=e.relative + 0.15) for e in report.estimates
    )
    Run.objects.filter(pk=run.pk).update(result=replace(report, estimates=estimates).to_json())


def test_one_capture_has_no_list(triaged, run_of):
    run = run_of(triaged)
    assert capture_list(triaged, run.capture.visit_capture, None, None) is None


def test_captures_say_why_they_count_less(triaged, run_of, by):
    open_which = run_of(triaged, candidates=[[3], [2]])
    wide, best = run_of(triaged), run_of(triaged)
    _wider(wide)
    refused = run_of(triaged, verdict="not judged")
    aside = run_of(triaged)
    capture_aside(tie=aside.capture.visit_capture, member=by, why="The clamp slipped.")
    after = run_of(triaged, EVEN, purpose=VisitCapture.Purpose.VERIFICATION)
    found = listed(triaged, wide)
    assert (found.number, found.count) == (2, 6)
    assert found.to_sign == best.capture.visit_capture
    assert [c.row.tie.capture_id for c in found.captures if c.is_to_sign] == [best.capture_id]
    why = {c.row.tie.capture_id: c.why_less for c in found.captures}
    assert why[best.capture_id] == ""
    assert says_only(why[open_which.capture_id], "signing.leaves-open-cylinder")
    assert says_only(
        why[wide.capture_id], "signing.wider-intervals-points-average", width=30, least=8
    )
    assert says_only(why[refused.capture_id], "signing.no-result-sign")
    assert says_only(
        why[aside.capture_id], "pooled_captures.set-aside", aside_why="The clamp slipped."
    )
    assert why[after.capture_id] == "after the repair"


def test_the_list_leads_back_and_forward(triaged, run_of):
    first, second, third = (run_of(triaged) for _ in range(3))
    found = listed(triaged, second)
    assert (found.before, found.after) == (
        first.capture.visit_capture,
        third.capture.visit_capture,
    )
    assert listed(triaged, first).before is None
    assert listed(triaged, third).after is None


def test_what_is_signed_is_marked_and_nothing_is_to_sign_any_more(triaged, run_of, sign):
    first, second = run_of(triaged), run_of(triaged)
    found = listed(triaged, second, sign(triaged, first, [3]))
    assert [c.is_signed for c in found.captures] == [True, False]
    assert not any(c.is_to_sign for c in found.captures)
    assert found.to_sign is None


def test_what_another_capture_contradicts_stands_above_the_verdict(browser, triaged, run_of):
    run_of(triaged)
    even = run_of(triaged, EVEN)
    page = browser.get(reverse("jobs:capture", args=[even.capture_id])).content.decode()
    head, _, _ = page.partition('id="verdict"')
    together = decision_on(triaged, even).together
    assert together is not None
    assert together.words.disagreements
    assert 'id="others"' in head
    assert "finding-warn" in head.partition('id="others"')[2]
