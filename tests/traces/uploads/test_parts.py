"""Files in parts: whose they are, what is refused, and that the very bytes come together."""

import errno
import os
import shutil
import threading
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from shopdiag.people.core.roles import Action
from tests.traces import parts
from tests.traces.conftest import csv_bytes
from tests.traces.parts import JSON, begin, begun, digest_header, put, sent
from traces.models import PartialUpload
from traces.selectors.partials import NotWholeError, arrived_uploads
from traces.services import partials
from traces.services.partials import part_take
from traces.uploads.request_files import PART_BYTES, arriving_folder, arriving_path

CONTENT = csv_bytes()


@pytest.fixture
def browser(client_for, cast):
    return client_for(cast.diagnostician)


def _state(client, token):
    return client.get(reverse("traces:part", args=[token])).json()


def _sentence(answer):
    (sentence,) = answer.json()["errors"]
    assert sentence.endswith(".")
    return sentence


def test_a_file_comes_together_from_parts_of_any_size(browser, cast):
    token = begun(browser, CONTENT)
    ends = [1, 2, 777, 9000, len(CONTENT)]
    for start, stop in zip([0, *ends], ends, strict=False):
        assert put(browser, token, CONTENT, start, stop).json() == {"received": stop}
        assert _state(browser, token)["received"] == stop
    (upload,) = arrived_uploads(cast.diagnostician, [token])
    assert b"".join(upload.chunks()) == CONTENT
    assert (upload.name, upload.size) == ("crank.csv", len(CONTENT))


def test_the_beginning_tells_where_to_send_what(browser):
    answer = begin(browser, "crank.csv", 5)
    token = answer.json()["token"]
    assert answer.json() == {"token": token, "size": 5, "received": 0, "part_bytes": PART_BYTES}
    assert answer["Location"] == reverse("traces:part", args=[token])


@pytest.mark.parametrize("role", ["mechanic", "writer", "both_here", "both_there"])
def test_roles_that_take_no_captures_send_no_parts(cast, client_for, browser, role):
    token = begun(browser, CONTENT)
    other = client_for(getattr(cast, role))
    assert not getattr(cast, role).may(Action.CAPTURE)
    assert begin(other, "crank.csv", 5).status_code == 403
    address = reverse("traces:part", args=[token])
    for method in ("get", "head", "put", "delete"):
        assert getattr(other, method)(address).status_code == 403
    assert _state(browser, token)["received"] == 0


@pytest.mark.parametrize("who", ["owner", "outsider", "other_owner"])
def test_an_upload_is_its_senders_own(cast, client_for, browser, who):
    """Neither a colleague nor another shop sees it, adds to it, ends it, or takes it in."""
    token = sent(browser, CONTENT)
    other = client_for(getattr(cast, who))
    address = reverse("traces:part", args=[token])
    for answer in (other.get(address), put(other, token, CONTENT, 0, 9), other.delete(address)):
        assert answer.status_code == 404
        assert "not here any more" in _sentence(answer)
    with pytest.raises(NotWholeError, match="not here any more"):
        arrived_uploads(getattr(cast, who), [token])
    assert _state(browser, token)["received"] == len(CONTENT)


def test_a_part_at_the_wrong_place_is_told_the_right_one(browser):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 500)
    for start in (0, 400, 501, 600):
        answer = put(browser, token, CONTENT, start, start + 50)
        assert (answer.status_code, answer.json()) == (409, {"received": 500})
    assert arriving_path(token).read_bytes() == CONTENT[:500]


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"Content_Digest": digest_header(b"another")}, 400),
        ({"Content_Digest": "sha-512=:AAAA:"}, 400),
        ({"Content_Digest": "nonsense"}, 400),
        ({"Content_Digest": ""}, 400),
        ({"Repr_Digest": "nonsense"}, 400),
        ({"Content_Range": "bytes 0-99/*"}, 400),
        ({"Content_Range": ""}, 400),
        ({"Content_Range": "bytes 0-99/100"}, 400),
        ({"Content_Range": f"bytes 0-{PART_BYTES}/{PART_BYTES * 2}"}, 413),
        ({"body": CONTENT[:99]}, 400),
        ({"body": CONTENT[:101]}, 400),
        ({"body": b""}, 400),
    ],
)
def test_a_part_that_is_not_what_it_says_is_not_counted(browser, more, status):
    token = begun(browser, CONTENT)
    answer = put(browser, token, CONTENT, 0, 100, **more)
    assert answer.status_code == status
    _sentence(answer)
    assert _state(browser, token)["received"] == 0
    assert put(browser, token, CONTENT, 0, 100).json() == {"received": 100}


@pytest.mark.parametrize(
    ("name", "size", "words"),
    [
        ("a.csv", 0, "is empty"),
        ("a.csv", 1_000_001, "is 1 MB and the limit is 1 MB"),
        ("a.csv", 2**53, "the limit is 1 MB"),
        ("a.csv", 2**70, "size in bytes"),
        ("a.csv", -1, "size in bytes"),
        ("a.csv", "many", "size in bytes"),
        ("a.csv", "", "size in bytes"),
        ("", 5, "file's name"),
        ("x" * 1001, 5, "longer than any disk"),
        ("a\x00b.csv", 5, "Null characters"),
    ],
)
def test_what_cannot_come_in_is_refused_before_it_is_sent(browser, settings, name, size, words):
    settings.CAPTURE_LIMIT_MB = 1
    answer = begin(browser, name, size)
    assert answer.status_code == 422
    assert words in _sentence(answer)
    assert not PartialUpload.objects.exists()


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/cron.d/x.csv", "x.csv"),
        ("C:\\Users\\somebody\\crank.csv", "crank.csv"),
        ("/", "capture"),
        ("..", ".."),
        ("\u202efdp.csv", "fdp.csv"),
        ("ü" * 300 + ".csv", "ü" * 196 + ".csv"),
        ("<b>x</b>.csv", "b>.csv"),
    ],
)
def test_a_name_is_only_shown(browser, media: Path, name, shown):
    token = begun(browser, CONTENT, name)
    put(browser, token, CONTENT, 0, 100)
    assert PartialUpload.objects.get().name == shown
    assert [p.relative_to(media).as_posix() for p in media.rglob("*") if p.is_file()] == [
        f"arriving/{token.hex}"
    ]


def test_one_who_begins_too_many_is_told(cast, client_for, browser, monkeypatch):
    monkeypatch.setattr(partials, "MOST_OPEN", 2)
    monkeypatch.setattr(partials, "MOST_OPEN_IN_SHOP", 3)
    first = begun(browser, CONTENT)
    begun(browser, CONTENT)
    refused = begin(browser, "third.csv", 5)
    assert refused.status_code == 422
    assert "finish or cancel" in _sentence(refused)
    colleague, elsewhere = client_for(cast.owner), client_for(cast.outsider)
    begun(colleague, CONTENT)
    assert begin(colleague, "fourth.csv", 5).status_code == 422
    begun(elsewhere, CONTENT)
    browser.delete(reverse("traces:part", args=[first]))
    begun(browser, CONTENT)
    # What rests makes place for what is sent now.
    PartialUpload.objects.update(touched_at=timezone.now() - timedelta(minutes=61))
    begun(browser, CONTENT)
    mine = PartialUpload.objects.seen_by(cast.owner).filter(created_by=cast.diagnostician)
    assert mine.count() == 1
    # That was room enough: what the colleague began stays.
    assert PartialUpload.objects.filter(created_by=cast.owner).count() == 1
    assert PartialUpload.objects.seen_by(cast.outsider).count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_colleagues_rest_makes_place_too_and_only_where_that_is_enough(
    cast, client_for, browser, monkeypatch
):
    monkeypatch.setattr(partials, "MOST_OPEN", 2)
    monkeypatch.setattr(partials, "MOST_OPEN_IN_SHOP", 2)
    colleague = client_for(cast.owner)
    resting = begun(colleague, CONTENT)
    put(colleague, resting, CONTENT, 0, 100)
    begun(browser, CONTENT)
    hour_ago = timezone.now() - timedelta(minutes=61)
    monkeypatch.setattr(partials, "MOST_OPEN", 1)
    PartialUpload.objects.filter(pk=resting).update(touched_at=hour_ago)
    # His own is too fresh to go, so a colleague's would go for nothing.
    assert begin(browser, "second.csv", 5).status_code == 422
    assert _state(colleague, resting)["received"] == 100
    monkeypatch.setattr(partials, "MOST_OPEN", 2)
    assert begin(browser, "second.csv", 5).status_code == 201
    assert not PartialUpload.objects.filter(pk=resting).exists()
    assert not arriving_path(UUID(str(resting))).exists()


def test_one_who_promises_too_much_is_told(browser, settings):
    settings.CAPTURE_LIMIT_MB = 1
    for _ in range(5):
        assert begin(browser, "a.csv", 1_000_000).status_code == 201
    assert begin(browser, "a.csv", 1).status_code == 422


def test_cancelling_leaves_nothing(browser):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 100)
    address = reverse("traces:part", args=[token])
    assert browser.delete(address).status_code == 204
    assert list(arriving_folder().iterdir()) == []
    assert not PartialUpload.objects.exists()
    assert browser.delete(address).status_code == 404
    assert put(browser, token, CONTENT, 100, 200).status_code == 404


def test_an_upload_nobody_knows(browser):
    assert put(browser, uuid4(), CONTENT, 0, 100).status_code == 404
    assert not arriving_folder().exists()


def test_a_full_disk_is_told_and_gives_back_what_it_took(browser, monkeypatch):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 100)

    class Full:
        """A file on a disk that takes ten bytes more."""

        def __init__(self, file) -> None:
            self._file = file
            self._left = 10

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self._file.close()

        def __getattr__(self, name):
            return getattr(self._file, name)

        def write(self, data):
            if not self._left:
                raise OSError(errno.ENOSPC, "No space left on device")
            self._left = 0
            return self._file.write(bytes(data[:10]))

    real = os.fdopen
    with monkeypatch.context() as patch:
        patch.setattr("traces.uploads.request_files.os.fdopen", lambda *a, **k: Full(real(*a, **k)))
        answer = put(browser, token, CONTENT, 100, 200)
    assert answer.status_code == 507
    assert "disk is full" in _sentence(answer)
    assert arriving_path(token).stat().st_size == 100
    assert put(browser, token, CONTENT, 100, 200).json() == {"received": 200}


def test_a_disk_that_could_not_hold_it_is_told_at_once(browser, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=200_000_004))
    assert begin(browser, "a.csv", 5).status_code == 507
    assert begin(browser, "a.csv", 4).status_code == 201
    # Room that is promised is not promised twice.
    assert begin(browser, "b.csv", 1).status_code == 507


def test_a_server_that_dies_between_writing_and_counting_loses_nothing(browser, cast, monkeypatch):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 1000)

    class DiedError(BaseException):
        pass

    def die(*_: object) -> None:
        raise DiedError

    with monkeypatch.context() as patch:
        patch.setattr(partials, "_note", die)
        with pytest.raises(DiedError):
            put(browser, token, CONTENT, 1000, 3000)
    assert arriving_path(token).stat().st_size == 3000
    assert _state(browser, token)["received"] == 1000
    # The browser goes on from there with parts of another size.
    put(browser, token, CONTENT, 1000, 1500)
    assert arriving_path(token).read_bytes() == CONTENT[:1500]
    put(browser, token, CONTENT, 1500, len(CONTENT))
    (upload,) = arrived_uploads(cast.diagnostician, [token])
    assert b"".join(upload.chunks()) == CONTENT


def test_a_part_that_the_disk_forgot_is_asked_for_again(browser):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 1000)
    os.truncate(arriving_path(token), 300)
    assert _state(browser, token)["received"] == 300
    answer = put(browser, token, CONTENT, 1000, 1100)
    assert (answer.status_code, answer.json()) == (409, {"received": 300})
    assert put(browser, token, CONTENT, 300, 1100).json() == {"received": 1100}
    assert arriving_path(token).read_bytes() == CONTENT[:1100]


def test_what_is_not_whole_is_not_taken(browser, cast):
    token = begun(browser, CONTENT)
    put(browser, token, CONTENT, 0, 1000)
    with pytest.raises(NotWholeError, match="not here whole"):
        arrived_uploads(cast.diagnostician, [token])


@pytest.mark.django_db(transaction=True)
def test_of_two_parts_at_once_one_is_counted(browser, cast, monkeypatch):
    """Both claim the same place; the second is told where the file ends by then."""
    token = begun(browser, CONTENT)
    ready = threading.Barrier(2, timeout=30)
    outcomes: list[object] = []

    def send(stop: int) -> None:
        head = parts.head_of(CONTENT, 0, stop)
        ready.wait()
        try:
            outcomes.append(
                part_take(member=cast.diagnostician, token=token, head=head, data=CONTENT[:stop])
            )
        except partials.WrongPlaceError as wrong:
            outcomes.append(("wrong place", wrong.received_bytes))
        finally:
            connection.close()

    both = [threading.Thread(target=send, args=(stop,)) for stop in (1000, 2000)]
    for one in both:
        one.start()
    for one in both:
        one.join(60)
    (taken,) = (o for o in outcomes if isinstance(o, int))
    assert sorted(outcomes, key=str) == sorted([taken, ("wrong place", taken)], key=str)
    assert arriving_path(token).read_bytes() == CONTENT[:taken]


def test_tokens_of_csrf_are_asked_for(browser):
    browser.handler.enforce_csrf_checks = True
    token = uuid4()
    assert begin(browser, "a.csv", 5).status_code == 403
    assert put(browser, token, CONTENT, 0, 10).status_code == 403
    assert browser.delete(reverse("traces:part", args=[token]), headers=JSON).status_code == 403
