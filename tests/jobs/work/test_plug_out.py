"""A capture with a plug out on a job: that cylinder was not tested, and orders no work."""

from uuid import uuid4

import pytest
from django.urls import reverse

from jobs.core.groups import EVEN_IN_TEST
from jobs.models import Judgement, VisitCapture
from jobs.selectors.captures import capture_rows
from jobs.selectors.decision import run_to_decide
from jobs.selectors.outcome import before_after
from jobs.selectors.pooled_captures import captures_together
from traces.models import Run

OUT = {1: 1.0, 2: 1.0, 3: 0.02, 4: 1.0}
SOUND = {1: 1.0, 2: 1.0, 3: 0.99, 4: 1.0}


@pytest.fixture
def opened_run_of(run_of):
    """Give a visit a capture in which the plug of cylinder 3 was out."""

    def make(visit, **given) -> Run:
        run: Run = run_of(visit, OUT, verdict="even", candidates=[[]], **given)
        assert run.result
        for row in (*run.result["positions"], *run.result["cylinders"]):
            if row["relative"] < 0.1:
                row["call"] = "open"
        run.save()
        return run

    return make


def test_its_row_says_which_cylinder_was_not_tested(triaged, opened_run_of):
    opened_run_of(triaged)
    (row,) = capture_rows(triaged)
    assert (row.words, row.kind) == ("even", "watch")
    assert "cylinder 3" in row.detail


def test_it_is_pooled_with_none(triaged, opened_run_of, run_of):
    opened_run_of(triaged)
    run_of(triaged, SOUND)
    assert captures_together(triaged) is None
    run_of(triaged, SOUND)
    found = captures_together(triaged)
    assert found is not None
    assert found.count == 2
    assert found.pooled.by_cylinder[3].relative == pytest.approx(0.99)


def test_one_with_all_plugs_in_is_signed_first(triaged, opened_run_of, run_of):
    whole = run_of(triaged, SOUND)
    opened_run_of(triaged)
    assert run_to_decide(triaged) == whole


def test_a_repair_is_not_proved_by_it(triaged, opened_run_of, run_of):
    run_of(triaged)
    opened_run_of(triaged, purpose=VisitCapture.Purpose.VERIFICATION)
    compared = before_after(triaged)
    assert not compared.rows
    assert "cylinder 3" in compared.why_not


def test_signed_as_even_it_says_nothing_of_that_cylinder(triaged, opened_run_of, client_for, by):
    run = opened_run_of(triaged)
    browser = client_for(by)
    address = reverse("jobs:decide", args=[triaged.pk])
    sent = {
        "kind": "accepted",
        "form_token": uuid4(),
        "run": run.pk,
        "chosen": "",
        "mechanical": "no",
        "fault_group": "ignition",
    }
    assert browser.post(address, sent).status_code == 302
    assert not Judgement.objects.get().cylinders
    draft = browser.get(reverse("jobs:work-order-new", args=[triaged.pk])).context["draft"]
    assert EVEN_IN_TEST not in draft.how_low
    assert "cylinder 3" in draft.how_low
    assert draft.cylinders == ()
