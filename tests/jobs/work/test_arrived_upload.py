"""Uploads become a visit's captures by the same form as files that come with it."""

import hashlib
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import VisitCapture
from jobs.services.captures import visit_captures_add
from tests.traces.conftest import csv_bytes
from tests.traces.tus import JSON, begun, metadata_header, patch, sent, whole_header
from tests.wording import says
from traces.models import Capture, Upload
from traces.uploads.files import upload_path, uploads_folder

pytestmark = pytest.mark.django_db(transaction=True)
CONTENT = csv_bytes()


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def take(browser, triaged):
    """Post the form with tokens instead of files, as the page's script does."""

    def post(*tokens, client=browser, visit=triaged, **more):
        address = reverse("jobs:capture-upload", args=[visit.pk])
        fields = {"arrived": [str(t) for t in tokens], "purpose": "diagnosis", **more}
        return client.post(address, fields, headers=JSON)

    return post


def _sentence(answer):
    assert answer.status_code == 422
    (sentence,) = answer.json()["errors"]
    assert sentence.endswith(".")
    return sentence


def _lying() -> list[Path]:
    return list(uploads_folder().iterdir())


def test_one_that_is_here_whole_becomes_the_visits_capture(browser, take, triaged, by):
    token = sent(browser, CONTENT, "cold crank.csv")
    answer = take(token)
    tie = VisitCapture.objects.get(visit=triaged)
    following = reverse("jobs:capture", args=[tie.capture_id]) + "?then=set-up"
    assert answer.json() == {"next": following}
    capture = tie.capture
    assert Path(capture.original.path).read_bytes() == CONTENT
    assert (capture.original_name, capture.size_bytes) == ("cold crank.csv", len(CONTENT))
    assert capture.uploaded_by == by
    assert capture.reading.state == "queued"
    assert _lying() == []


def test_a_form_whose_answer_was_lost_is_sent_again(browser, take):
    token = sent(browser, CONTENT)
    first = take(token)
    # Even with the box ticked there is one capture: it is the same upload.
    for more in ({}, {"keep_duplicate": "yes"}):
        assert take(token, **more).json()["next"] == first.json()["next"]
    assert Capture.objects.count() == 1


def test_files_and_uploads_may_come_in_one_form(browser, take):
    token = sent(browser, CONTENT)
    other = SimpleUploadedFile("other.csv", csv_bytes(seed=2))
    answer = take(token, recordings=[other])
    # several lead to the first of them
    assert answer.json()["next"].startswith("/jobs/captures/")
    names = Capture.objects.values_list("original_name", flat=True)
    assert sorted(names) == ["crank.csv", "other.csv"]


def test_the_whole_is_held_against_what_the_sender_says(browser, take):
    token = begun(browser, CONTENT)
    wrong = whole_header(b"something else")
    patch(browser, token, CONTENT, 0, len(CONTENT), Repr_Digest=wrong)
    assert says(_sentence(take(token)), "captures.not-file-sent-changed")
    assert not Capture.objects.exists()
    assert _lying() == []
    assert not Upload.objects.exists()


def test_what_the_metadata_says_of_the_whole_counts_as_well(browser, take):
    for content, name in ((CONTENT, "good.csv"), (b"something else", "wrong.csv")):
        sha256 = hashlib.sha256(content).hexdigest()
        metadata = metadata_header(filename=name, sha256=sha256)
        token = begun(browser, CONTENT, Upload_Metadata=metadata)
        patch(browser, token, CONTENT, 0, len(CONTENT))
        answer = take(token)
        assert answer.status_code == (200 if content == CONTENT else 422)
    assert [c.original_name for c in Capture.objects.all()] == ["good.csv"]


def test_a_sender_may_leave_the_whole_digest_out(browser, take):
    assert "next" in take(sent(browser, CONTENT, whole=False)).json()


def test_what_changed_on_the_disk_is_noticed(browser, take):
    token = sent(browser, CONTENT)
    with upload_path(token).open("r+b") as file:
        file.seek(1000)
        file.write(b"9")
    assert "was changed" in _sentence(take(token))
    assert not Capture.objects.exists()


def test_no_recording_is_refused_and_removed(browser, take):
    picture = b"\x89PNG\r\n\x1a\n" + bytes(5000)
    token = sent(browser, picture, "photo.png")
    assert "photo.png" in _sentence(take(token))
    assert _lying() == []
    assert says(_sentence(take(token)), "uploads.upload-not-here-any")


def test_one_that_is_on_another_job_need_not_be_sent_again(browser, take, take_in, by, triaged):
    other = take_in(by)
    visit_captures_add(visit=other, member=by, uploads=[SimpleUploadedFile("there.csv", CONTENT)])
    token = sent(browser, CONTENT)
    assert says(_sentence(take(token)), "captures.same-content-capture-choose")
    assert _lying() == [upload_path(token)]
    assert "next" in take(token, keep_duplicate="yes").json()
    assert VisitCapture.objects.filter(visit=triaged).count() == 1
    assert _lying() == []


def test_one_that_is_on_this_job_already_is_removed(browser, take):
    first = take(sent(browser, CONTENT))
    again = take(sent(browser, CONTENT, "again.csv"))
    assert again.json()["next"] == first.json()["next"]
    assert Capture.objects.count() == 1
    assert _lying() == []


def test_what_is_not_whole_goes_on_after_the_form_was_refused(browser, take):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 1000)
    assert "not here whole" in _sentence(take(token))
    patch(browser, token, CONTENT, 1000, len(CONTENT))
    assert "next" in take(token).json()


@pytest.mark.parametrize(
    "token", ["", "x", "../../etc/passwd", "1", "26679ca9-3bf2-41a8-a6b4-9857cdf476f6", "\x00"]
)
def test_tokens_that_name_nothing(browser, take, token):
    assert not Capture.objects.exists()
    _sentence(take(token))


def test_a_closed_job_takes_none_and_loses_none(browser, take, triaged):
    token = sent(browser, CONTENT)
    type(triaged).objects.filter(pk=triaged.pk).update(stage="closed")
    assert "closed" in _sentence(take(token))
    assert _lying() == [upload_path(token)]


def test_nobody_takes_in_what_another_sent(browser, take, client_for, cast, their_visit):
    token = sent(browser, CONTENT)
    for member, visit in ((cast.owner, None), (cast.outsider, their_visit)):
        more = {"visit": visit} if visit else {}
        answer = take(token, client=client_for(member), **more)
        assert says(_sentence(answer), "uploads.upload-not-here-any")
    assert take(token, client=client_for(cast.outsider)).status_code == 404
    assert take(token, client=client_for(cast.mechanic)).status_code == 403
    assert not Capture.objects.exists()
    assert "next" in take(token).json()


def test_too_many_at_once(browser, take):
    tokens = [sent(browser, CONTENT) for _ in range(2)]
    files = [SimpleUploadedFile(f"{n}.csv", csv_bytes(seed=n)) for n in range(19)]
    assert says(
        _sentence(take(*tokens, recordings=files)), "evidence.these-files-send-most", count=21
    )
    # The same upload named twice is one.
    assert "next" in take(tokens[0], tokens[0]).json()
    assert Capture.objects.count() == 1
