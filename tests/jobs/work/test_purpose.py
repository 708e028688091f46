"""A capture is made the proof of a repair, and taken back; the same file leads to where it is."""

from dataclasses import replace

import pytest
from django.contrib.messages import get_messages
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.stages import Stage
from jobs.models import Outcome, TimelineEvent, VisitCapture, WorkOrder
from jobs.selectors.captures import copies_among
from jobs.selectors.outcome import customer_copy_of
from jobs.services.captures import capture_aside, capture_purpose_set, visit_captures_add
from tests.traces.conftest import csv_bytes, upload_of
from traces.core.setup import SetupError
from traces.core.signal_kinds import DEFAULT_SIGNAL
from traces.models import Capture, Reading
from traces.services import run_add

EVEN = dict.fromkeys((1, 2, 3, 4), 1.0)
PROOF = VisitCapture.Purpose.VERIFICATION.value
IDLING_PROOF = VisitCapture.Purpose.RUNNING_AFTER.value
DIAGNOSIS = VisitCapture.Purpose.DIAGNOSIS.value


@pytest.fixture
def later(order, run_of) -> VisitCapture:
    """Return a capture of the job that nobody signed."""
    tie: VisitCapture = run_of(order.visit, EVEN).capture.visit_capture
    return tie


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def told() -> list[str]:
    events = TimelineEvent.objects.filter(kind="capture", data__has_key="purpose")
    return [event.data["purpose"] for event in events.order_by("pk")]


def test_it_becomes_the_proof_and_goes_back(later, browser):
    before = told()
    here = reverse("jobs:capture", args=[later.capture_id])
    address = reverse("jobs:capture-purpose", args=[later.capture_id])
    assert address in browser.get(here).content.decode()
    for purpose in (PROOF, DIAGNOSIS):
        for _ in range(2):  # sent twice it is said once
            answer = browser.post(address, {"purpose": purpose})
            assert (answer.status_code, answer.headers["Location"]) == (302, here)
        later.refresh_from_db()
        assert later.purpose == purpose
        page = browser.get(here)
        assert f'value="{PROOF if purpose == DIAGNOSIS else DIAGNOSIS}"' in page.content.decode()
    assert told()[len(before) :] == [PROOF, DIAGNOSIS]


def test_the_proof_is_laid_beside_the_captures_before(later, by):
    visit = later.visit
    assert customer_copy_of(visit).evidence.after is None
    capture_purpose_set(tie=later, member=by, purpose=PROOF)
    assert customer_copy_of(visit).evidence.after is not None


@pytest.fixture
def proved(later, by):
    """A capture that the repair is said to hold by."""
    capture_purpose_set(tie=later, member=by, purpose=PROOF)
    Outcome.objects.create(visit=later.visit, verified="yes", verified_how="Second capture.")
    later.refresh_from_db()
    return later


def test_a_proof_is_taken_back_only_with_a_reason_and_once_confirmed(proved, browser):
    address = reverse("jobs:capture-purpose", args=[proved.capture_id])
    sent = {"purpose": DIAGNOSIS}
    answer = browser.post(address, sent)
    assert (answer.status_code, set(answer.context["refused"].errors)) == (422, {"reason"})
    sent |= {"reason": "Made before the valve went in."}
    answer = browser.post(address, sent)
    asked = answer.context["refused"]
    assert (answer.status_code, set(asked.errors)) == (422, {"confirmed"})
    proved.refresh_from_db()
    assert proved.purpose == PROOF
    digest = asked.errors.as_data()["confirmed"][0].code
    assert f'value="{digest}"' in answer.content.decode()
    # a tick for another reason does not count
    other = sent | {"reason": "Another", "confirmed": digest}
    assert browser.post(address, other).status_code == 422
    assert browser.post(address, sent | {"confirmed": digest}).status_code == 302
    proved.refresh_from_db()
    assert proved.purpose == DIAGNOSIS
    told_last = TimelineEvent.objects.filter(kind="capture", data__purpose=DIAGNOSIS).latest("pk")
    assert told_last.data["reason"] == sent["reason"]
    assert sent["reason"] in told_last.words


def test_a_proof_is_set_aside_only_once_confirmed(proved, by):
    with pytest.raises(ValidationError) as error:
        capture_aside(tie=proved, member=by, why="Wrong clamp")
    assert set(error.value.message_dict) == {"confirmed"}
    assert capture_aside(tie=proved, member=by, why="Wrong clamp", confirmed=True).is_aside
    # taking it in again asks nothing
    assert not capture_aside(tie=proved, member=by, why="").is_aside


@pytest.fixture
def idling(proved):
    """The set-up of the proof as one of an idling engine."""
    return replace(proved.capture.runs.get().setup.analysis, rate_hz=2e3, signal="running-teeth")


def test_a_proof_is_set_up_as_idling_only_once_it_is_set_aside(proved, by, idling):
    before = told()
    with pytest.raises(SetupError):
        run_add(member=by, capture=proved.capture, analysis=idling)
    proved.refresh_from_db()
    assert (proved.purpose, told()) == (PROOF, before)
    capture_aside(tie=proved, member=by, why="It idles.", confirmed=True)
    run_add(member=by, capture=proved.capture, analysis=idling)
    proved.refresh_from_db()
    assert proved.purpose == IDLING_PROOF
    assert told() == [*before, IDLING_PROOF]
    assert TimelineEvent.objects.latest("pk").by == by


@pytest.mark.parametrize("verdict", ["", "not judged"])
def test_what_showed_nothing_yet_is_set_up_as_idling_at_once(proved, by, idling, verdict):
    """Nothing rests on it; the engine idling after the repair is sent as a proof, too."""
    proved.capture.runs.update(verdict=verdict)
    run_add(member=by, capture=proved.capture, analysis=idling)
    proved.refresh_from_db()
    assert proved.purpose == IDLING_PROOF
    assert told()[-1] == IDLING_PROOF


def test_a_proof_of_the_idling_engine_is_kept_as_well(later, idle_of, by, browser):
    tie = idle_of(later.visit, EVEN, purpose=IDLING_PROOF).capture.visit_capture
    Outcome.objects.create(visit=tie.visit, verified="yes", verified_how="It idles evenly.")
    with pytest.raises(ValidationError) as error:
        capture_aside(tie=tie, member=by, why="Wrong clamp")
    assert set(error.value.message_dict) == {"confirmed"}
    with pytest.raises(ValidationError) as error:
        capture_purpose_set(tie=tie, member=by, purpose=DIAGNOSIS)
    assert set(error.value.message_dict) == {"reason"}
    cranked = replace(tie.capture.runs.get().setup.analysis, signal=DEFAULT_SIGNAL, rate_hz=2e3)
    with pytest.raises(SetupError):
        run_add(member=by, capture=tie.capture, analysis=cranked)
    tie.refresh_from_db()
    assert tie.purpose == IDLING_PROOF


def test_of_one_recording_the_one_from_before_counts_idling_or_not():
    """Else it would prove the repair by itself."""
    copies = [
        VisitCapture(
            pk=pk,
            purpose=purpose,
            capture=Capture(pk=pk, current_reading=Reading(sketch=list(range(64)))),
        )
        for pk, purpose in ((1, IDLING_PROOF), (2, VisitCapture.Purpose.RUNNING))
    ]
    assert copies_among(copies, {1, 2}) == {1: copies[1]}


def test_a_page_says_what_an_idling_capture_counts_as(later, idle_of, browser):
    ties = [later, idle_of(later.visit, EVEN).capture.visit_capture]
    said = []
    for purpose in (PROOF, DIAGNOSIS):
        for tie in ties:
            address = reverse("jobs:capture-purpose", args=[tie.capture_id])
            answer = browser.post(address, {"purpose": purpose})
            said.append([str(m) for m in get_messages(answer.wsgi_request)][-1])
    assert said[0] == said[1] != said[2] == said[3]


def test_before_the_repair_is_said_to_hold_nothing_is_asked(later, by):
    capture_purpose_set(tie=later, member=by, purpose=PROOF)
    assert capture_purpose_set(tie=later, member=by, purpose=DIAGNOSIS).purpose == DIAGNOSIS


def test_the_job_goes_on_to_verification(later, by):
    WorkOrder.objects.filter(visit=later.visit).update(state=WorkOrder.State.DONE)
    capture_purpose_set(tie=later, member=by, purpose=PROOF)
    later.visit.refresh_from_db()
    assert later.visit.stage == Stage.VERIFY


def test_the_capture_that_was_signed_stays_where_it_is(order, by, browser):
    signed = order.judgement.run.capture.visit_capture
    with pytest.raises(ValidationError):
        capture_purpose_set(tie=signed, member=by, purpose=PROOF)
    address = reverse("jobs:capture-purpose", args=[signed.capture_id])
    assert browser.post(address, {"purpose": PROOF}).status_code == 422
    assert (
        address
        not in browser.get(reverse("jobs:capture", args=[signed.capture_id])).content.decode()
    )
    signed.refresh_from_db()
    assert signed.purpose == DIAGNOSIS


def test_nothing_is_proved_before_anything_is_signed(triaged, run_of, by):
    tie = run_of(triaged, EVEN).capture.visit_capture
    with pytest.raises(ValidationError):
        capture_purpose_set(tie=tie, member=by, purpose=PROOF)


@pytest.mark.parametrize("purpose", ["", "x", None])
def test_what_is_no_purpose_is_refused(later, browser, purpose):
    address = reverse("jobs:capture-purpose", args=[later.capture_id])
    assert browser.post(address, {"purpose": purpose} if purpose else {}).status_code == 422


def test_a_closed_job_takes_it_not(later, by):
    later.visit.stage = Stage.CLOSED
    later.visit.save()
    with pytest.raises(ValidationError):
        capture_purpose_set(tie=later, member=by, purpose=PROOF)


@pytest.mark.parametrize("sent_as", [PROOF, DIAGNOSIS])
def test_the_same_file_again_leads_to_the_one_that_is_here(order, by, sent_as):
    """And says where it counts, if that is not what it was sent as."""
    other = DIAGNOSIS if sent_as == PROOF else PROOF

    def send(purpose):
        (outcome,) = visit_captures_add(
            visit=order.visit,
            member=by,
            uploads=[upload_of(csv_bytes(seed=91), "again.csv")],
            purpose=purpose,
        )
        return outcome

    first = send(sent_as)
    assert first.added is not None
    assert (send(sent_as).already, send(sent_as).where) == (first.added, "")
    elsewhere = send(other)
    assert elsewhere.already == first.added
    assert elsewhere.where
    # an idling engine counts for the same: only before or after the repair is compared
    idling = VisitCapture.purpose_for("running", is_after=sent_as == PROOF)
    VisitCapture.objects.filter(pk=first.added.pk).update(purpose=idling)
    assert [send(sent_as).where, send(other).where] == ["", elsewhere.where]
    VisitCapture.objects.filter(pk=first.added.pk).update(purpose=sent_as)
    capture_purpose_set(tie=first.added, member=by, purpose=other)
    assert send(other).where == ""
    capture_aside(tie=first.added, member=by, why="The clamp slipped.")
    assert "The clamp slipped" in send(other).where
    assert VisitCapture.objects.filter(capture__sha256=first.added.capture.sha256).count() == 1
