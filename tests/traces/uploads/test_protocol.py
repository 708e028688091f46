"""Uploads by the tus protocol from pages: whose they are, what is refused, that no byte is lost."""

from datetime import timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.handlers.wsgi import WSGIRequest
from django.http import UnreadablePostError
from django.urls import reverse
from django.utils import timezone

from shopdiag.people.core.roles import Action
from tests.traces.conftest import csv_bytes
from tests.traces.tus import (
    VERSION,
    address_of,
    begun,
    checksum_header,
    create,
    delete,
    metadata_header,
    offset,
    patch,
    sent,
    sentence,
)
from traces.models import Upload
from traces.selectors.uploads import NotWholeError, whole_uploads
from traces.services import uploads
from traces.uploads.files import PART_BYTES, upload_path

CONTENT = csv_bytes()


@pytest.fixture
def browser(client_for, cast):
    return client_for(cast.diagnostician)


# --- the protocol ---


def test_a_client_learns_what_the_server_takes(browser, settings):
    settings.CAPTURE_LIMIT_MB = 7
    # The version need not be known before asking for it.
    for address in (reverse("api:uploads"), address_of(uuid4())):
        answer = browser.options(address)
        assert answer.status_code == 200
        assert answer["Tus-Version"] == "1.0.0"
        assert answer["Tus-Extension"] == "creation,checksum,expiration,termination"
        assert answer["Tus-Max-Size"] == "7000000"
        assert answer["Tus-Checksum-Algorithm"] == "sha1,sha256"
        assert answer["Tus-Resumable"] == "1.0.0"


@pytest.mark.parametrize("version", [None, "", "0.2.2", "1.0"])
def test_another_version_is_refused_and_nothing_done(browser, version):
    token = begun(browser, CONTENT)
    headers = {} if version is None else {"Tus-Resumable": version}
    for method in ("head", "get", "delete"):
        answer = getattr(browser, method)(address_of(token), headers=headers)
        assert (answer.status_code, answer["Tus-Version"]) == (412, "1.0.0")
    assert patch(browser, token, CONTENT, 0, 9, Tus_Resumable=version).status_code == 412
    assert create(browser, "a.csv", 5, Tus_Resumable=version or "x").status_code == 412
    assert offset(browser, token) == 0
    assert Upload.objects.count() == 1


def test_a_file_comes_together_from_parts_of_any_size(browser, cast):
    token = begun(browser, CONTENT)
    ends = [1, 2, 777, 9000, len(CONTENT)]
    for start, stop in zip([0, *ends], ends, strict=False):
        answer = patch(browser, token, CONTENT, start, stop)
        assert (answer.status_code, answer["Upload-Offset"]) == (204, str(stop))
        assert answer["Tus-Resumable"] == "1.0.0"
        assert offset(browser, token) == stop
    (upload,) = whole_uploads(cast.diagnostician, [token])
    assert b"".join(upload.chunks()) == CONTENT
    assert (upload.name, upload.size) == ("crank.csv", len(CONTENT))


def test_creation_names_the_upload_and_its_state_is_told(browser):
    metadata = metadata_header(filename="crank.csv", note="kept") + ",flag"
    answer = create(browser, "", 5, Upload_Metadata=metadata)
    token = answer.json()["token"]
    assert answer["Location"] == address_of(token)
    assert answer.json() == {"token": token, "size": 5, "received": 0, "part_bytes": PART_BYTES}
    patch(browser, token, b"12345", 0, 2)
    head = browser.head(address_of(token), headers=VERSION)
    assert (head.status_code, head.content) == (200, b"")
    assert (head["Upload-Offset"], head["Upload-Length"]) == ("2", "5")
    assert head["Upload-Metadata"] == metadata
    assert "no-store" in head["Cache-Control"]
    told = browser.get(address_of(token), headers=VERSION)
    assert told.json()["received"] == 2


def test_it_says_when_it_will_be_given_up_and_going_on_puts_that_off(browser):
    token = begun(browser, CONTENT)
    long_ago = timezone.now() - timedelta(hours=20)
    Upload.objects.filter(pk=token).update(touched_at=long_ago)
    head = browser.head(address_of(token), headers=VERSION)
    told = parsedate_to_datetime(head["Upload-Expires"])
    assert abs(told - (long_ago + Upload.KEPT_FOR)) < timedelta(seconds=2)
    later = parsedate_to_datetime(patch(browser, token, CONTENT, 0, 9)["Upload-Expires"])
    assert later - told > timedelta(hours=19)


def test_sha1_does_too_and_a_part_needs_no_checksum(browser):
    token = begun(browser, CONTENT)
    sha1 = checksum_header(CONTENT[:100], "sha1")
    assert patch(browser, token, CONTENT, 0, 100, Upload_Checksum=sha1).status_code == 204
    assert patch(browser, token, CONTENT, 100, 200, Upload_Checksum=None).status_code == 204
    assert upload_path(token).read_bytes() == CONTENT[:200]


def test_a_whole_file_may_come_at_once(browser, monkeypatch, cast):
    """Clients that know no parts send one request; it is taken bit by bit."""
    monkeypatch.setattr("traces.api.uploads.PART_BYTES", 1000)
    counted = []
    real = uploads._note

    def note(row, received, *more):
        counted.append(received)
        real(row, received, *more)

    monkeypatch.setattr(uploads, "_note", note)
    token = begun(browser, CONTENT)
    answer = patch(browser, token, CONTENT, 0, len(CONTENT), Upload_Checksum=None)
    assert (answer.status_code, answer["Upload-Offset"]) == (204, str(len(CONTENT)))
    assert counted[:2] == [1000, 2000]
    (upload,) = whole_uploads(cast.diagnostician, [token])
    assert b"".join(upload.chunks()) == CONTENT


def test_of_a_request_that_is_cut_what_came_stays(browser, monkeypatch):
    monkeypatch.setattr("traces.api.uploads.PART_BYTES", 1000)
    token = begun(browser, CONTENT)
    read = WSGIRequest.read

    def broken(self, *args):
        data = read(self, *args)
        if not data:
            raise UnreadablePostError
        return data

    monkeypatch.setattr(WSGIRequest, "read", broken)
    cut = patch(browser, token, CONTENT, 0, 9, body=CONTENT[:2500], Upload_Checksum=None)
    assert (cut.status_code, offset(browser, token)) == (204, 2500)
    # With a checksum only the whole part is known to be good.
    cut = patch(browser, token, CONTENT, 2500, 3500, body=CONTENT[2500:3000])
    assert (cut.status_code, offset(browser, token)) == (460, 2500)
    assert upload_path(token).read_bytes() == CONTENT[:2500]


@pytest.mark.parametrize("method", ["post", "put"])
def test_a_method_that_nothing_lets_through_may_stand_in_a_header(browser, method):
    token = begun(browser, CONTENT)
    override = {"X-HTTP-Method-Override": "PATCH", "Upload-Offset": "0"}
    kind = "application/offset+octet-stream"
    answer = getattr(browser, method)(
        address_of(token), CONTENT[:9], content_type=kind, headers={**VERSION, **override}
    )
    assert answer.status_code == 204
    assert offset(browser, token) == 9
    gone = browser.post(address_of(token), headers={**VERSION, "X-HTTP-Method-Override": "DELETE"})
    assert gone.status_code == 204
    assert not Upload.objects.exists()


# --- who may ---


@pytest.mark.parametrize("role", ["mechanic", "writer", "both_here", "both_there"])
def test_roles_that_take_no_captures_upload_nothing(cast, client_for, browser, role):
    token = begun(browser, CONTENT)
    other = client_for(getattr(cast, role))
    assert not getattr(cast, role).may(Action.CAPTURE)
    assert create(other, "crank.csv", 5).status_code == 403
    for method in ("get", "head", "patch", "delete"):
        answer = getattr(other, method)(address_of(token), headers=VERSION)
        assert answer.status_code == 403
    assert offset(browser, token) == 0


def test_strangers_are_told_to_sign_in(browser, client):
    token = begun(browser, CONTENT)
    for method in ("get", "head", "patch", "delete", "options"):
        assert getattr(client, method)(address_of(token), headers=VERSION).status_code == 401


@pytest.mark.parametrize("who", ["owner", "outsider", "other_owner"])
def test_an_upload_is_its_senders_own(cast, client_for, browser, who):
    """Neither a colleague nor another shop sees it, adds to it, ends it, or takes it in."""
    token = sent(browser, CONTENT)
    other = client_for(getattr(cast, who))
    address = address_of(token)
    for answer in (
        other.get(address, headers=VERSION),
        other.head(address, headers=VERSION),
        patch(other, token, CONTENT, 0, 9),
        delete(other, token),
    ):
        assert answer.status_code == 404
        assert "Upload-Offset" not in answer
    with pytest.raises(NotWholeError):
        whole_uploads(getattr(cast, who), [token])
    assert offset(browser, token) == len(CONTENT)


def test_tokens_of_csrf_are_asked_for(browser):
    token = begun(browser, CONTENT)
    browser.handler.enforce_csrf_checks = True
    assert create(browser, "a.csv", 5).status_code == 403
    assert patch(browser, token, CONTENT, 0, 10).status_code == 403
    assert delete(browser, token).status_code == 403
    for override in ("PATCH", "DELETE"):
        headers = {**VERSION, "X-HTTP-Method-Override": override, "Upload-Offset": "0"}
        assert browser.get(address_of(token), headers=headers).status_code == 403
    assert offset(browser, token) == 0


# --- what is refused ---


def test_a_part_at_the_wrong_place_is_told_the_right_one(browser):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 500)
    for start in (0, 400, 501, 600):
        answer = patch(browser, token, CONTENT, start, start + 50)
        assert answer.status_code == 409
        assert "500" in sentence(answer)
    assert upload_path(token).read_bytes() == CONTENT[:500]


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"Upload_Checksum": checksum_header(b"another")}, 460),
        ({"Upload_Checksum": checksum_header(b"another", "sha1")}, 460),
        ({"Upload_Checksum": "md5 XrY7u+Ae7tCTyyK7j1rNww=="}, 400),
        ({"Upload_Checksum": "nonsense"}, 400),
        ({"Repr_Digest": "nonsense"}, 400),
        ({"Upload_Offset": None}, 400),
        ({"Upload_Offset": "-1"}, 400),
        ({"Upload_Offset": "zero"}, 400),
        ({"body": CONTENT[:99]}, 460),
        ({"body": CONTENT[:101]}, 460),
        ({"body": CONTENT + b"x", "Upload_Checksum": None}, 413),
        ({"kind": "application/octet-stream"}, 415),
        ({"kind": "application/json"}, 415),
        ({"kind": ""}, 415),
    ],
)
def test_a_part_that_is_not_what_it_says_is_not_counted(browser, more, status):
    token = begun(browser, CONTENT)
    answer = patch(browser, token, CONTENT, 0, 100, **more)
    assert answer.status_code == status
    sentence(answer)
    assert offset(browser, token) == 0
    if status == 460:
        assert answer.reason_phrase == "Checksum Mismatch"
    assert patch(browser, token, CONTENT, 0, 100).status_code == 204


def test_with_a_checksum_no_more_is_taken_than_fits_into_memory(browser, monkeypatch):
    monkeypatch.setattr("traces.api.uploads.PART_BYTES", 1000)
    token = begun(browser, CONTENT)
    assert patch(browser, token, CONTENT, 0, 1001).status_code == 413
    assert offset(browser, token) == 0
    assert patch(browser, token, CONTENT, 0, 1000).status_code == 204


@pytest.mark.parametrize(
    ("size", "more", "status"),
    [
        (0, {}, 400),
        (1_000_001, {}, 413),
        (10**14, {}, 413),
        (10**16, {}, 400),
        (-1, {}, 400),
        ("many", {}, 400),
        ("", {}, 400),
        (5, {"Upload_Defer_Length": "1"}, 400),
        (5, {"Upload_Metadata": "filename ****"}, 400),
        (5, {"Upload_Metadata": metadata_header(sha256="x")}, 400),
    ],
)
def test_what_cannot_come_in_is_refused_before_it_is_sent(browser, settings, size, more, status):
    settings.CAPTURE_LIMIT_MB = 1
    answer = create(browser, "a.csv", size, **more)
    assert answer.status_code == status
    sentence(answer)
    assert not Upload.objects.exists()


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/cron.d/x.csv", "x.csv"),
        ("C:\\Users\\somebody\\crank.csv", "crank.csv"),
        ("/", "capture"),
        ("..", ".."),
        ("", "capture"),
        ("a\x00b.csv", "ab.csv"),
        ("\u202efdp.csv", "fdp.csv"),
        ("ü" * 300 + ".csv", "ü" * 196 + ".csv"),
        ("<b>x</b>.csv", "b>.csv"),
    ],
)
def test_a_name_is_only_shown(browser, media: Path, name, shown):
    token = begun(browser, CONTENT, name)
    patch(browser, token, CONTENT, 0, 100)
    assert Upload.objects.get().name == shown
    assert [p.relative_to(media).as_posix() for p in media.rglob("*") if p.is_file()] == [
        f"uploads/{token.hex}"
    ]
