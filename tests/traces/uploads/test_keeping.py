"""Uploads lose no byte, whatever dies or fills up, and nobody takes all the room."""

import errno
import os
import shutil
import threading
from datetime import timedelta
from types import SimpleNamespace
from uuid import UUID, uuid4

import pytest
from django.db import connection
from django.utils import timezone

from tests.traces.conftest import csv_bytes
from tests.traces.tus import VERSION, address_of, begun, create, delete, offset, patch, sentence
from tests.wording import says
from traces.models import Upload
from traces.selectors.uploads import NotWholeError, whole_uploads
from traces.services import uploads
from traces.services.uploads import OffsetError, upload_append
from traces.uploads.files import upload_path, uploads_folder

CONTENT = csv_bytes()


@pytest.fixture
def browser(client_for, cast):
    return client_for(cast.diagnostician)


def test_one_who_begins_too_many_is_told(cast, client_for, browser, monkeypatch):
    monkeypatch.setattr(uploads, "MOST_OPEN", 2)
    monkeypatch.setattr(uploads, "MOST_OPEN_IN_SHOP", 3)
    first = begun(browser, CONTENT)
    begun(browser, CONTENT)
    refused = create(browser, "third.csv", 5)
    assert refused.status_code == 400
    sentence(refused)
    colleague, elsewhere = client_for(cast.owner), client_for(cast.outsider)
    begun(colleague, CONTENT)
    assert create(colleague, "fourth.csv", 5).status_code == 400
    begun(elsewhere, CONTENT)
    delete(browser, first)
    begun(browser, CONTENT)
    # What rests makes place for what is sent now.
    Upload.objects.update(touched_at=timezone.now() - timedelta(minutes=61))
    begun(browser, CONTENT)
    mine = Upload.objects.seen_by(cast.owner).filter(created_by=cast.diagnostician)
    assert mine.count() == 1
    # That was room enough: what the colleague began stays.
    assert Upload.objects.filter(created_by=cast.owner).count() == 1
    assert Upload.objects.seen_by(cast.outsider).count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_colleagues_rest_makes_place_too_and_only_where_that_is_enough(
    cast, client_for, browser, monkeypatch
):
    monkeypatch.setattr(uploads, "MOST_OPEN", 2)
    monkeypatch.setattr(uploads, "MOST_OPEN_IN_SHOP", 2)
    colleague = client_for(cast.owner)
    resting = begun(colleague, CONTENT)
    patch(colleague, resting, CONTENT, 0, 100)
    begun(browser, CONTENT)
    hour_ago = timezone.now() - timedelta(minutes=61)
    monkeypatch.setattr(uploads, "MOST_OPEN", 1)
    Upload.objects.filter(pk=resting).update(touched_at=hour_ago)
    # His own is too fresh to go, so a colleague's would go for nothing.
    assert create(browser, "second.csv", 5).status_code == 400
    assert offset(colleague, resting) == 100
    monkeypatch.setattr(uploads, "MOST_OPEN", 2)
    assert create(browser, "second.csv", 5).status_code == 201
    assert not Upload.objects.filter(pk=resting).exists()
    assert not upload_path(UUID(str(resting))).exists()


def test_one_who_promises_too_much_is_told(browser, settings):
    settings.CAPTURE_LIMIT_MB = 1
    for _ in range(5):
        assert create(browser, "a.csv", 1_000_000).status_code == 201
    assert create(browser, "a.csv", 1).status_code == 400


def test_cancelling_leaves_nothing(browser):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 100)
    assert delete(browser, token).status_code == 204
    assert list(uploads_folder().iterdir()) == []
    assert not Upload.objects.exists()
    assert delete(browser, token).status_code == 404
    assert browser.head(address_of(token), headers=VERSION).status_code == 404
    assert patch(browser, token, CONTENT, 100, 200).status_code == 404


def test_an_upload_nobody_knows(browser):
    assert patch(browser, uuid4(), CONTENT, 0, 100).status_code == 404
    assert not uploads_folder().exists()


def test_a_full_disk_is_told_and_gives_back_what_it_took(browser, monkeypatch):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 100)

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
    with monkeypatch.context() as context:
        context.setattr("traces.uploads.files.os.fdopen", lambda *a, **k: Full(real(*a, **k)))
        answer = patch(browser, token, CONTENT, 100, 200)
    assert answer.status_code == 507
    sentence(answer)
    assert upload_path(token).stat().st_size == 100
    assert patch(browser, token, CONTENT, 100, 200)["Upload-Offset"] == "200"


def test_a_disk_that_could_not_hold_it_is_told_at_once(browser, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=200_000_004))
    assert create(browser, "a.csv", 5).status_code == 507
    assert create(browser, "a.csv", 4).status_code == 201
    # Room that is promised is not promised twice.
    assert create(browser, "b.csv", 1).status_code == 507


def test_a_server_that_dies_between_writing_and_counting_loses_nothing(browser, cast, monkeypatch):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 1000)

    class DiedError(BaseException):
        pass

    def die(*_: object) -> None:
        raise DiedError

    with monkeypatch.context() as context:
        context.setattr(uploads, "_note", die)
        with pytest.raises(DiedError):
            patch(browser, token, CONTENT, 1000, 3000)
    assert upload_path(token).stat().st_size == 3000
    assert offset(browser, token) == 1000
    # The browser goes on from there with parts of another size.
    patch(browser, token, CONTENT, 1000, 1500)
    assert upload_path(token).read_bytes() == CONTENT[:1500]
    patch(browser, token, CONTENT, 1500, len(CONTENT))
    (upload,) = whole_uploads(cast.diagnostician, [token])
    assert b"".join(upload.chunks()) == CONTENT


def test_a_part_that_the_disk_forgot_is_asked_for_again(browser):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 1000)
    os.truncate(upload_path(token), 300)
    assert offset(browser, token) == 300
    answer = patch(browser, token, CONTENT, 1000, 1100)
    assert answer.status_code == 409
    assert offset(browser, token) == 300
    assert patch(browser, token, CONTENT, 300, 1100)["Upload-Offset"] == "1100"
    assert upload_path(token).read_bytes() == CONTENT[:1100]


def test_what_is_not_whole_is_not_taken(browser, cast):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 1000)
    with pytest.raises(NotWholeError) as refused:
        whole_uploads(cast.diagnostician, [token])
    assert says(refused.value, "uploads.not-here-whole-yet")


@pytest.mark.django_db(transaction=True)
def test_of_two_parts_at_once_one_is_counted(browser, cast):
    """Both claim the same place; the second is told where the file ends by then."""
    token = begun(browser, CONTENT)
    ready = threading.Barrier(2, timeout=30)
    outcomes: list[object] = []

    def send(stop: int) -> None:
        ready.wait()
        try:
            row = upload_append(
                member=cast.diagnostician, token=token, offset=0, data=CONTENT[:stop]
            )
            outcomes.append(row.received_bytes)
        except OffsetError as wrong:
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
    assert upload_path(token).read_bytes() == CONTENT[:taken]
