"""Uploads that were given up, left alone or taken in leave neither files nor rows."""

import os
import time
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.utils import timezone

from tests.traces.conftest import csv_bytes
from tests.traces.tus import begun, patch, sent
from traces.models import Capture, Upload
from traces.runs.sweeping import sweep
from traces.runs.uploads import INCOMING_LEFT_AFTER, uploads_clear
from traces.selectors.uploads import whole_uploads
from traces.services import capture_add
from traces.uploads.files import WholeUpload, upload_path, uploads_folder

CONTENT = csv_bytes()


@pytest.fixture
def browser(client_for, cast):
    return client_for(cast.diagnostician)


def _rest(token, since: timedelta) -> None:
    Upload.objects.filter(pk=token).update(touched_at=timezone.now() - since)


def _lying() -> set[str]:
    return {path.name for path in uploads_folder().iterdir()}


def test_what_was_left_alone_goes_and_what_is_fresh_stays(browser):
    old, fresh = begun(browser, CONTENT), begun(browser, CONTENT)
    for token in (old, fresh):
        patch(browser, token, CONTENT, 0, 1000)
    _rest(old, Upload.KEPT_FOR + timedelta(minutes=1))
    _rest(fresh, Upload.KEPT_FOR - timedelta(minutes=1))
    assert sweep().cleared == 1
    assert _lying() == {fresh.hex}
    assert [row.token for row in Upload.objects.all()] == [fresh]
    assert not sweep().anything


def test_bodies_of_killed_requests_go_and_those_under_way_stay(settings, tmp_path, monkeypatch):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    unpacked = tmp_path / "unpacked"
    unpacked.mkdir()
    monkeypatch.setattr("traces.runs.uploads.unpacked_folder", lambda: unpacked)
    left, written = tmp_path / "left.upload.csv", tmp_path / "written.upload.csv"
    (unpacked / "left").write_bytes(b"x")
    for path in (left, written):
        path.write_bytes(b"x")
    long_ago = time.time() - INCOMING_LEFT_AFTER.total_seconds() - 60
    for path in (left, unpacked / "left"):
        os.utime(path, (long_ago, long_ago))
    assert uploads_clear() == 2
    assert {path.name for path in tmp_path.iterdir()} == {written.name, unpacked.name}
    assert not list(unpacked.iterdir())


def test_files_without_a_row_and_rows_without_a_file_go(browser, media: Path):
    kept, lost = begun(browser, CONTENT), begun(browser, CONTENT)
    waiting = begun(browser, CONTENT)
    for token in (kept, lost):
        patch(browser, token, CONTENT, 0, 1000)
    upload_path(lost).unlink()
    for name in (uuid4().hex, f"{uuid4().hex}.link", "nothing of ours"):
        (uploads_folder() / name).write_bytes(b"x")
    other = media / "captures" / "1"
    other.mkdir(parents=True)
    (other / uuid4().hex).write_bytes(b"a capture")
    assert uploads_clear() == 4
    assert _lying() == {kept.hex}
    assert {row.token for row in Upload.objects.all()} == {kept, waiting}
    assert len(list(other.iterdir())) == 1
    assert patch(browser, kept, CONTENT, 1000, 1100)["Upload-Offset"] == "1100"


def test_a_process_that_sees_no_files_takes_no_rows(browser, media: Path):
    token = begun(browser, CONTENT)
    patch(browser, token, CONTENT, 0, 1000)
    uploads_folder().rename(media / "elsewhere")
    assert uploads_clear() == 0
    assert Upload.objects.filter(pk=token).exists()


def _whole(cast, token) -> WholeUpload:
    (upload,) = whole_uploads(cast.diagnostician, [token])
    return upload


def test_what_became_a_capture_is_moved_and_forgotten_a_day_later(
    browser, cast, django_capture_on_commit_callbacks
):
    token = sent(browser, CONTENT)
    place = upload_path(token).stat().st_ino
    with django_capture_on_commit_callbacks(execute=True):
        added = capture_add(member=cast.diagnostician, upload=_whole(cast, token))
    assert added.capture
    stored = Path(added.capture.original.path)
    assert stored.read_bytes() == CONTENT
    assert stored.stat().st_ino == place, "moved, not copied"
    assert stored.suffix == ".csv"
    assert stored.stat().st_mode & 0o777 == 0o640
    assert _lying() == set()
    assert sweep().cleared == 0
    assert Upload.objects.filter(pk=token).exists()
    _rest(token, Upload.KEPT_FOR + timedelta(minutes=1))
    assert uploads_clear() == 1
    assert not Upload.objects.exists()
    assert stored.read_bytes() == CONTENT


def test_a_disk_without_second_names_moves_the_file_itself(browser, cast, monkeypatch):
    token = sent(browser, CONTENT)

    def refuse(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("traces.uploads.files.os.link", refuse)
    added = capture_add(member=cast.diagnostician, upload=_whole(cast, token))
    assert added.capture
    assert Path(added.capture.original.path).read_bytes() == CONTENT
    assert _lying() == set()


def test_a_capture_that_fails_at_the_end_leaves_the_upload_whole(
    browser, cast, media: Path, monkeypatch
):
    token = sent(browser, CONTENT)

    def fail(**_: object) -> None:
        raise RuntimeError

    with monkeypatch.context() as context:
        context.setattr("traces.services.captures.Reading.objects.create", fail)
        with pytest.raises(RuntimeError):
            capture_add(member=cast.diagnostician, upload=_whole(cast, token))
    assert not Capture.objects.exists()
    assert [p.name for p in media.rglob("*") if p.is_file()] == [token.hex]
    added = capture_add(member=cast.diagnostician, upload=_whole(cast, token))
    assert added.capture
    assert Path(added.capture.original.path).read_bytes() == CONTENT


def test_the_command_says_what_it_cleared(browser, capsys):
    token = begun(browser, CONTENT)
    _rest(token, Upload.KEPT_FOR * 2)
    call_command("sweep", "--once")
    # Its folder is made with the first upload, so that the sweep has somewhere to look.
    assert capsys.readouterr().out == "sent 0, freed 0, given up 0, cleared 1 left of uploads\n"
