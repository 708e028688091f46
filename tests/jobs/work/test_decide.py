"""A verdict is signed, overruled with a reason, or decided without a capture; never edited."""

from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Judgement, TimelineEvent
from jobs.services.judgements import judgement_sign
from tests.api.conftest import api_for
from tests.shopdiag.page_forms import filled, forms_on
from tests.wording import named, says

__all__ = ["api_for"]

SIGN: dict[str, Any] = {"kind": "accepted", "mechanical": "yes", "cylinders": [3]}


@pytest.fixture
def address(triaged):
    return reverse("jobs:decide", args=[triaged.pk])


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def test_accepting_is_one_press(browser, address, triaged, run_of, by):
    run = run_of(triaged)
    page = browser.get(reverse("jobs:capture", args=[run.capture_id]))
    form = page.context["accept"]
    sent = {name: form[name].value() for name in form.fields}
    assert sent["mechanical"] == "yes"
    assert sent["chosen"] == "3"
    response = browser.post(address, {k: v or "" for k, v in sent.items()})
    assert response.status_code == 302
    judgement = Judgement.objects.get()
    assert (judgement.kind, judgement.mechanical, judgement.cylinders) == ("accepted", "yes", [3])
    assert judgement.run == run
    assert judgement.by == by
    triaged.refresh_from_db()
    assert triaged.stage == Stage.DECIDE
    line = TimelineEvent.objects.get(visit=triaged, kind="judgement")
    assert says(line.words, "judgements.accepted-verdict")
    assert (line.data["kind"], line.data["mechanical"]) == ("accepted", "yes")
    assert line.data["cylinders"] == [3]
    assert "cylinder 3" in line.words


def test_sent_twice_signs_once(browser, address, triaged, run_of):
    run = run_of(triaged)
    token = str(uuid4())
    sent = {
        "kind": "accepted",
        "form_token": token,
        "run": run.pk,
        "chosen": "3",
        "mechanical": "yes",
    }
    for _ in range(2):
        assert browser.post(address, sent).status_code == 302
    assert Judgement.objects.count() == 1
    assert TimelineEvent.objects.filter(kind="judgement").count() == 1


def test_overruling_needs_a_reason_and_keeps_what_was_ticked(browser, address, triaged, run_of):
    run = run_of(triaged)
    sent = {
        "kind": "overruled",
        "form_token": str(uuid4()),
        "run": run.pk,
        "chosen": ["2", "4"],
        "mechanical": "unsure",
        "reason": "   ",
    }
    response = browser.post(address, sent)
    assert response.status_code == 422
    page = response.content.decode()
    assert says(page, "evidence.write-reason-first-record")
    assert response.context["own"]["chosen"].value() == ["2", "4"]
    assert not Judgement.objects.exists()
    why = "The gauge says 12 bar."
    assert browser.post(address, {**sent, "reason": why}).status_code == 302
    judgement = Judgement.objects.get()
    assert judgement.cylinders == [2, 4]
    assert "overruled the verdict" in TimelineEvent.objects.get(kind="judgement").words
    assert why in TimelineEvent.objects.get(kind="judgement").words


def test_without_a_capture_it_is_decided_in_own_words(browser, address, triaged):
    sent = {
        "kind": "without",
        "form_token": str(uuid4()),
        "mechanical": "no",
        "reason": "A coil is dead.",
    }
    assert browser.post(address, sent).status_code == 302
    judgement = Judgement.objects.get()
    assert judgement.run is None
    assert judgement.mechanical == "no"


def test_a_capture_that_was_not_judged_is_never_accepted(triaged, run_of, by, browser, address):
    run = run_of(triaged, verdict="not judged")
    for cylinders in ([], [3]):
        with pytest.raises(ValidationError) as refused:
            judgement_sign(visit=triaged, member=by, run=run, **{**SIGN, "cylinders": cylinders})
        assert says(refused.value, "accepting.capture-not-judged-there")
    page = browser.get(reverse("jobs:capture", args=[run.capture_id]))
    assert "accept" not in page.context
    assert "Accept and sign" not in page.content.decode()
    sent = {
        "kind": "accepted",
        "form_token": uuid4(),
        "run": run.pk,
        "chosen": "",
        "mechanical": "no",
    }
    assert browser.post(address, sent).status_code == 422
    judgement_sign(
        visit=triaged,
        member=by,
        run=run,
        kind="overruled",
        mechanical="unsure",
        reason="The humps are plain to see before it clips.",
    )


def test_where_sync_does_not_decide_the_person_picks(triaged, run_of, by, browser, address):
    run = run_of(triaged, {1: 0.6, 2: 1.0, 3: 1.0, 4: 1.0}, candidates=[(1,), (4,)], known=False)
    form = browser.get(address).context["accept"]
    assert [value for value, _ in form.fields["chosen"].choices] == ["1", "4", "all"]
    base = {"kind": "accepted", "run": run.pk, "mechanical": "yes", "reason": ""}
    none_picked = browser.post(address, {**base, "form_token": uuid4()})
    assert says(none_picked.content.decode(), "evidence.pick-set-cylinders-you")
    no_reason = browser.post(address, {**base, "form_token": uuid4(), "chosen": "4"})
    assert no_reason.status_code == 422
    assert says(no_reason.content.decode(), "judgements.more-one-set-cylinders")
    reasoned = {**base, "form_token": uuid4(), "chosen": "4", "reason": "Counts on cylinder 4."}
    assert browser.post(address, reasoned).status_code == 302
    assert (
        browser.post(address, {**base, "form_token": uuid4(), "chosen": "all"}).status_code == 302
    )
    signed = list(Judgement.objects.order_by("pk"))
    assert [j.cylinders for j in signed] == [[4], [1, 4]]
    # One of both is weak, and everything that tells the verdict says so.
    either = "cylinder 1 or cylinder 4"
    assert [j.cylinder_words for j in signed] == ["cylinder 4", either]
    page = browser.get(f"/jobs/{triaged.pk}/")
    verdict = page.context["page"].short.verdict
    assert verdict.words.endswith(either)
    assert "cylinders 1 and 4" not in page.content.decode().lower()


def test_accepting_other_cylinders_than_the_verdicts_is_refused(triaged, run_of, by):
    run = run_of(triaged)
    with pytest.raises(ValidationError) as refused:
        judgement_sign(visit=triaged, member=by, run=run, **{**SIGN, "cylinders": [2]})
    assert says(refused.value, "judgements.these-not-cylinders-verdict")


def test_an_even_verdict_asks_whether_it_is_mechanical(triaged, run_of, by, browser, address):
    run = run_of(triaged, {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0})
    form = browser.get(address).context["accept"]
    assert not form["mechanical"].value()
    sent = {"kind": "accepted", "run": run.pk, "form_token": uuid4(), "chosen": ""}
    assert says(
        browser.post(address, sent).content.decode(), "evidence.say-whether-compression-fault"
    )
    assert browser.post(address, {**sent, "mechanical": "no"}).status_code == 302
    assert Judgement.objects.get().cylinders == []


@pytest.mark.parametrize(
    ("relative", "answer", "named"),
    [
        (
            {1: 0.59, 2: 1.0, 3: 1.0, 4: 1.0},
            {"chosen": "1", "mechanical": "no", "reason": "Coil."},
            [1],
        ),
        (
            dict.fromkeys((1, 2, 3, 4), 1.0),
            {"chosen": "", "mechanical": "yes", "reason": "Rough."},
            [],
        ),
        (
            dict.fromkeys((1, 2, 3, 4), 1.0),
            {"chosen": "", "mechanical": "yes", "misfiring": ["2"], "reason": "Rough."},
            [2],
        ),
    ],
)
def test_an_answer_that_contradicts_the_capture_is_sent_to_overrule(  # noqa: PLR0917 - fixtures
    triaged, run_of, browser, relative, answer, named
):
    address = reverse("jobs:decide", args=[triaged.pk])
    run = run_of(triaged, relative)
    sent = {"kind": "accepted", "run": run.pk, "form_token": uuid4(), **answer}
    page = browser.post(address, sent)
    assert page.status_code == 422
    assert set(page.context["accept"].errors) == {"mechanical"}
    assert not Judgement.objects.exists()
    # the form that overrules is open, with all that was typed
    assert page.context["own_open"]
    (own,) = [f for f in forms_on(page, address) if f.sent.get("kind") == ["overruled"]]
    assert own.sent["mechanical"] == [answer["mechanical"]]
    assert own.sent["reason"] == [answer["reason"]]
    assert own.sent.get("chosen", []) == list(map(str, named))
    # without a reason it is refused there as well; with it, it is recorded as overruled
    assert browser.post(address, filled(own, {"reason": ""})).status_code == 422
    assert browser.post(address, filled(own, {})).status_code == 302
    stands = Judgement.objects.get()
    assert (stands.kind, stands.mechanical) == ("overruled", answer["mechanical"])
    assert (stands.cylinders, stands.reason) == (named, answer["reason"])


@pytest.mark.parametrize(
    ("low", "mechanical", "cylinders", "status"),
    [
        (0.59, "no", [1], 400),
        (0.59, "unsure", [1], 201),
        (0.59, "yes", [1], 201),
        (1.0, "yes", [], 400),
        (1.0, "unsure", [], 201),
        (1.0, "no", [2], 201),
    ],
)
def test_programs_accept_only_what_the_capture_says(  # noqa: PLR0917 - fixtures
    triaged, run_of, by, api_for, low, mechanical, cylinders, status
):
    run = run_of(triaged, {1: low, 2: 1.0, 3: 1.0, 4: 1.0})
    sent = {"run": run.pk, "kind": "accepted", "mechanical": mechanical, "cylinders": cylinders}
    answer = api_for(by).post(reverse("api:judgements", args=[triaged.pk]), sent)
    assert answer.status_code == status, answer.json()
    assert status == 201 or set(answer.json()) == {"mechanical"}
    assert Judgement.objects.exists() is (status == 201)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"cylinders": [9], "kind": "overruled", "reason": "x"},
            named("findings.engine-no-cylinder-choose", cylinder=9),
        ),
        ({"kind": "overruled", "reason": " "}, named("judgements.say-why-you-overrule")),
        ({"kind": "without", "reason": "x"}, named("judgements.decision-without-capture-names")),
    ],
)
def test_what_cannot_be_signed(triaged, run_of, by, change, sentence):
    with pytest.raises(ValidationError) as refused:
        judgement_sign(visit=triaged, member=by, run=run_of(triaged), **{**SIGN, **change})
    assert says(refused.value, sentence)


def test_an_unfinished_run_is_not_signed(triaged, run_of, by):
    with pytest.raises(ValidationError) as refused:
        judgement_sign(visit=triaged, member=by, run=run_of(triaged, state="running"), **SIGN)
    assert says(refused.value, "judgements.run-not-done-wait")


@pytest.fixture
def other_run(run_of, take_in, by, four):
    """A run of another job of the same shop."""
    return run_of(take_in(by, engine=four))


def test_a_run_of_another_job_is_not_signed(triaged, by, other_run, browser, address):
    with pytest.raises(ValidationError) as refused:
        judgement_sign(visit=triaged, member=by, run=other_run, **SIGN)
    assert says(refused.value, "judgements.run-belongs-another-job")
    assert browser.get(address, {"run": other_run.pk}).status_code == 404
    assert browser.post(address, {"kind": "accepted", "run": other_run.pk}).status_code == 404


def test_a_drive_motors_capture_is_never_accepted(take_in, four, by, run_of, browser):
    visit = take_in(by, engine=four, drive="traction")
    run = run_of(visit)
    with pytest.raises(ValidationError) as refused:
        judgement_sign(visit=visit, member=by, run=run, **SIGN)
    assert says(refused.value, "accepting.vehicle-cranked-drive-motor")
    page = browser.get(reverse("jobs:capture", args=[run.capture_id])).content.decode()
    assert "Accept and sign" not in page
    assert "does not apply" in page


def test_judgements_are_followed_never_edited(signed, triaged, by):
    later = judgement_sign(
        visit=triaged, member=by, kind="without", mechanical="no", reason="It was the coil."
    )
    assert list(triaged.judgements.all()) == [later, signed]
    with pytest.raises(DatabaseError), transaction.atomic():
        Judgement.objects.filter(pk=signed.pk).update(mechanical="no")


def test_a_closed_job_is_not_judged(triaged, by):
    type(triaged).objects.filter(pk=triaged.pk).update(stage="closed")
    with pytest.raises(ValidationError, match="closed"):
        judgement_sign(visit=triaged, member=by, kind="without", mechanical="no", reason="x")


def test_addresses_that_make_no_sense(browser, address, triaged, run_of):
    assert browser.get(address, {"run": "x"}).status_code == 404
    assert browser.post(address, {"kind": "guessed"}).status_code == 404
    assert browser.post(address, {"kind": "accepted"}).status_code == 404
