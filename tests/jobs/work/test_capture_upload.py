"""Recordings come to a visit: one or many, good and bad, twice, and after the repair."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from jobs.core.stages import Stage
from jobs.models import TimelineEvent, Visit, VisitCapture
from jobs.services import captures as services
from jobs.services.captures import visit_captures_add
from tests.wording import says, says_only, wording
from traces.models import Capture
from traces.services import capture_digest
from traces.uploads.limits import LimitHandler

ROWS = "\n".join(f"{i / 1000:.4f},{(i % 50) / 50:.3f},{i % 7}" for i in range(500))


def recording(name="crank.csv", more=""):
    return SimpleUploadedFile(name, f"time,clamp,coil\ns,V,V\n{ROWS}\n{more}".encode())


@pytest.fixture
def address(triaged):
    return reverse("jobs:capture-upload", args=[triaged.pk])


def _set_up_of(tie: VisitCapture) -> str:
    """The address of a capture that was just sent: it goes on to the set-up."""
    return reverse("jobs:capture", args=[tie.capture_id]) + "?then=set-up"


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


def test_one_recording_leads_to_its_page(browser, address, triaged, by):
    response = browser.post(address, {"recordings": [recording()], "purpose": "diagnosis"})
    tie = VisitCapture.objects.get(visit=triaged)
    assert response.headers["Location"] == _set_up_of(tie)
    assert tie.capture.original_name == "crank.csv"
    line = TimelineEvent.objects.get(visit=triaged, kind="capture")
    assert line.by == by
    assert "crank.csv" in line.words
    triaged.refresh_from_db()
    assert triaged.stage == Stage.TEST


def test_several_at_once_keep_the_good_ones(browser, address, triaged):
    bad = SimpleUploadedFile("empty.csv", b"")
    picture = SimpleUploadedFile("shot.png", b"\x89PNG\r\n\x1a\n" + b"\x00" * 200)
    files = [recording("one.csv"), bad, picture, recording("two.csv", "0.6,0,0\n")]
    response = browser.post(address, {"recordings": files, "purpose": "diagnosis"}, follow=True)
    names = set(VisitCapture.objects.values_list("capture__original_name", flat=True))
    assert names == {"one.csv", "two.csv"}
    page = response.content.decode()
    assert says(page, "evidence.recording-here-once-read", count=2)
    assert "empty.csv" in page
    assert "shot.png" in page


def test_the_script_is_answered_in_json(browser, address):
    sent = {"recordings": [recording()], "purpose": "diagnosis"}
    answer = browser.post(address, sent, headers={"accept": "application/json"})
    tie = VisitCapture.objects.get()
    assert json.loads(answer.content) == {"next": _set_up_of(tie)}
    bad = {"recordings": [SimpleUploadedFile("e.csv", b"")], "purpose": "diagnosis"}
    answer = browser.post(address, bad, headers={"accept": "application/json"})
    assert answer.status_code == 422
    (sentence,) = json.loads(answer.content)["errors"]
    assert "e.csv" in sentence
    assert "empty" in sentence
    none = browser.post(address, {"purpose": "diagnosis"}, headers={"accept": "application/json"})
    assert json.loads(none.content) == {"errors": [wording("evidence.choose-least-one-recording")]}


def test_the_same_file_twice_offers_the_one_that_is_here(browser, address):
    sent = {"recordings": [recording()], "purpose": "diagnosis"}
    first = browser.post(address, sent)
    sent = {"recordings": [recording("again.csv")], "purpose": "diagnosis"}
    again = browser.post(address, sent, follow=True)
    assert Capture.objects.count() == 1
    assert again.redirect_chain[-1][0] == first.headers["Location"]
    assert says(again.content.decode(), "evidence.job-already")


def test_of_several_files_the_first_new_one_is_opened(browser, address):
    browser.post(address, {"recordings": [recording()], "purpose": "diagnosis"})
    new = SimpleUploadedFile("new.csv", b"time,clamp\n0,1\n1,2\n")
    sent = {"recordings": [recording(), new], "purpose": "diagnosis"}
    answer = browser.post(address, sent)
    newest = VisitCapture.objects.latest("pk")
    assert answer.headers["Location"] == _set_up_of(newest)
    assert VisitCapture.objects.count() == 2


def test_another_jobs_file_is_named_and_may_be_kept(triaged, take_in, by, four):
    other = take_in(by, engine=four)
    visit_captures_add(visit=other, member=by, uploads=[recording()])
    (refused,) = visit_captures_add(visit=triaged, member=by, uploads=[recording()])
    assert refused.added is None
    assert refused.elsewhere is not None
    assert f"a capture of {other}" in refused.sentence
    (kept,) = visit_captures_add(
        visit=triaged, member=by, uploads=[recording()], keep_duplicate=True
    )
    assert kept.added is not None
    assert kept.added.visit == triaged


def test_another_shops_file_is_not_told(triaged, their_visit, cast, by):
    visit_captures_add(visit=their_visit, member=cast.outsider, uploads=[recording()])
    (added,) = visit_captures_add(visit=triaged, member=by, uploads=[recording()])
    assert added.added is not None


def test_a_capture_after_the_repair_carries_the_visit_on(order, by):
    from jobs.services.work import work_order_withdraw  # noqa: PLC0415

    visit = order.visit
    work_order_withdraw(order=order, member=by, reason="Done by hand.")
    visit_captures_add(visit=visit, member=by, uploads=[recording()], purpose="verification")
    visit.refresh_from_db()
    assert visit.stage == Stage.VERIFY
    assert VisitCapture.objects.filter(visit=visit, purpose="verification").count() == 1


def test_a_closed_job_takes_nothing(browser, address, triaged):
    type(triaged).objects.filter(pk=triaged.pk).update(stage="closed")
    answer = browser.post(
        address,
        {"recordings": [recording()], "purpose": "diagnosis"},
        headers={"accept": "application/json"},
    )
    assert answer.status_code == 422
    assert "closed" in json.loads(answer.content)["errors"][0]
    assert not Capture.objects.exists()


def test_too_many_files_are_refused_with_a_sentence(browser, address):
    files = [recording(f"{i}.csv") for i in range(21)]
    answer = browser.post(
        address,
        {"recordings": files, "purpose": "diagnosis"},
        headers={"accept": "application/json"},
    )
    (error,) = json.loads(answer.content)["errors"]
    assert says_only(error, "evidence.these-files-send-most", count=21, most_files=20)


def test_the_page_of_a_drive_motors_vehicle_says_so_before_upload(client_for, by, take_in, four):
    visit = take_in(by, engine=four, drive="traction")
    page = client_for(by).get(reverse("jobs:visit", args=[visit.pk])).content.decode()
    caution = wording("jobs/cautions:traction_drive.text")
    assert page.index(escape(caution)) < page.index('name="recordings"')


@pytest.mark.parametrize("known", [True, False])
def test_nothing_that_a_stranger_sends_is_kept(address, by, client_for, known, monkeypatch):
    kept: list[int] = []
    keep = LimitHandler.receive_data_chunk

    def counted(handler, raw_data, start):
        kept.append(len(raw_data))
        return keep(handler, raw_data, start)

    monkeypatch.setattr(LimitHandler, "receive_data_chunk", counted)
    browser = client_for(by) if known else Client()
    # The token's check reads the form before the page's own gate is asked.
    browser.handler.enforce_csrf_checks = True
    browser.cookies["csrftoken"] = "a" * 32
    sent = {"recordings": [recording()], "purpose": "diagnosis"}
    assert browser.post(address, sent).status_code == 403
    assert bool(kept) == known
    assert not Capture.objects.exists()


def test_a_job_closed_while_a_file_is_looked_at_takes_it_no_more(
    browser, address, triaged, monkeypatch
):
    def closed_meanwhile(*, upload):
        Visit.objects.filter(pk=triaged.pk).update(stage=Stage.CLOSED)
        return capture_digest(upload=upload)

    monkeypatch.setattr(services, "capture_digest", closed_meanwhile)
    page = browser.post(address, {"recordings": recording(), "purpose": "diagnosis"}, follow=True)
    assert says(page.content.decode(), "closed.job-closed")
    assert not Capture.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_capture_that_could_not_be_recorded_leaves_no_file(
    triaged, by, media, monkeypatch, take_in
):
    other = take_in(by)
    files = visit_captures_add(visit=other, member=by, uploads=[recording("first.csv")])
    (kept,) = media.rglob("*.csv")

    def broken(**_line):
        raise RuntimeError("no line")

    monkeypatch.setattr(services, "event_add", broken)
    for upload, again in (
        (recording("first.csv"), True),
        (recording("second.csv", "9,9,9"), False),
    ):
        with pytest.raises(RuntimeError):
            visit_captures_add(visit=triaged, member=by, uploads=[upload], keep_duplicate=again)
    # what it would have shared with the first stays
    assert list(media.rglob("*.csv")) == [kept]
    assert list(VisitCapture.objects.all()) == [files[0].added]
