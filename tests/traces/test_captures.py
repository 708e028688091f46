"""Taking captures in: kept as they came, once, within the limit, or refused with a sentence."""

import hashlib
import io
import os
import threading
from collections.abc import Callable
from pathlib import Path
from unittest.mock import Mock

import pytest
from celery import current_app
from django.core.files.uploadedfile import TemporaryUploadedFile
from django.db import connection
from kombu.exceptions import OperationalError

from tests.conftest import Cast
from tests.traces.conftest import csv_bytes, upload_of
from tests.wording import says
from traces.models import Capture, Reading, Work
from traces.services import CaptureRefusedError, capture_add, reading_retry
from traces.services.captures import AddedCapture
from traces.uploads.limits import IncomingFile, LimitHandler

PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)


def _kept(media: Path) -> list[Path]:
    return [p for p in media.rglob("*") if p.is_file()]


def _refusal(cast: Cast, content: bytes, name: str = "x.csv") -> str:
    with pytest.raises(CaptureRefusedError) as refused:
        capture_add(member=cast.diagnostician, upload=upload_of(content, name))
    assert len(refused.value.messages) == 1
    return str(refused.value.messages[0])


def test_a_capture_is_kept_as_it_came(cast: Cast, media: Path) -> None:
    content = csv_bytes()
    outcome = capture_add(
        member=cast.diagnostician, upload=upload_of(content, "cold crank.csv"), label=" cold "
    )
    assert outcome.duplicate_of is None
    capture = outcome.capture
    assert capture
    capture.refresh_from_db()
    assert Path(capture.original.path).read_bytes() == content
    assert capture.sha256 == hashlib.sha256(content).hexdigest()
    assert capture.size_bytes == len(content)
    assert capture.original_name == "cold crank.csv"
    assert capture.label == "cold"
    assert capture.shop == cast.shop
    assert capture.uploaded_by == cast.diagnostician
    assert capture.reading.state == Work.State.QUEUED
    assert len(_kept(media)) == 1


def test_a_file_that_came_through_the_disk_is_kept_too(cast: Cast) -> None:
    content = csv_bytes(seconds=2)
    upload = TemporaryUploadedFile("big.csv", "text/csv", len(content), None)
    upload.write(content)
    upload.seek(0)
    capture = capture_add(member=cast.diagnostician, upload=upload).capture
    upload.close()
    assert capture
    assert Path(capture.original.path).read_bytes() == content


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\captures\\run 1.csv", "run 1.csv"),
        ("x" * 300 + ".csv", "x" * 196 + ".csv"),
        ("<b>bold</b>.csv", "b>.csv"),
        ("a\x07b.csv", "ab.csv"),
    ],
)
def test_a_name_is_shown_but_never_used_as_a_path(
    cast: Cast, media: Path, monkeypatch, name: str, shown: str
) -> None:
    upload = upload_of(csv_bytes())
    # A browser may send any name; Django's own cleaning is not what is tested here.
    monkeypatch.setattr(type(upload), "name", name)
    capture = capture_add(member=cast.diagnostician, upload=upload).capture
    assert capture
    assert capture.original_name == shown
    stored = Path(capture.original.path).resolve()
    assert stored.is_relative_to(media.resolve() / "captures" / str(cast.shop.pk))
    assert stored.stem not in name


def test_reading_is_sent_to_the_queue_once_it_is_committed(
    cast: Cast, monkeypatch, django_capture_on_commit_callbacks
) -> None:
    sent = Mock()
    monkeypatch.setattr(current_app, "send_task", sent)
    with django_capture_on_commit_callbacks(execute=True):
        capture = capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes())).capture
        sent.assert_not_called()
    assert capture
    sent.assert_called_once_with("traces.read_capture", args=[capture.reading.pk])
    capture.reading.refresh_from_db()
    assert capture.reading.sent_at is not None


def test_a_queue_that_is_down_does_not_fail_the_upload(
    cast: Cast, monkeypatch, django_capture_on_commit_callbacks
) -> None:
    monkeypatch.setattr(current_app, "send_task", Mock(side_effect=OperationalError("refused")))
    with django_capture_on_commit_callbacks(execute=True):
        capture = capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes())).capture
    assert capture
    capture.reading.refresh_from_db()
    assert (capture.reading.state, capture.reading.sent_at) == (Work.State.QUEUED, None)


def test_an_empty_file_is_refused(cast: Cast, media: Path) -> None:
    assert "is empty" in _refusal(cast, b"")
    assert not _kept(media)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (PNG, "a picture (PNG)"),
        (b"\xff\xd8\xff\xe0" + bytes(64), "a picture (JPEG)"),
        (b"%PDF-1.7\n" + bytes(range(256)), "a PDF document"),
        (b"\x7fELF\x02\x01\x01" + bytes(64), "a program"),
        (b"MZ\x90\x00" + bytes(64), "a program"),
        (b"PK\x03\x04" + bytes(26) + b"[Content_Types].xml" + bytes(64), "an office document"),
        (b"7z\xbc\xaf\x27\x1c" + bytes(64), "a compressed archive"),
    ],
)
def test_what_is_no_recording_is_refused_at_once(
    cast: Cast, media: Path, content: bytes, what: str
) -> None:
    # Whatever its name says.
    sentence = _refusal(cast, content, "crank.csv")
    assert what in sentence
    assert says(sentence, "not_a_recording.save-recording-csv-wav")
    assert not _kept(media)
    assert not Capture.objects.exists()


def test_a_file_over_the_limit_is_refused_and_leaves_nothing(
    cast: Cast, media: Path, settings
) -> None:
    settings.CAPTURE_LIMIT_MB = 1
    sentence = _refusal(cast, b"1,2\n" * 300_000)
    assert says(sentence, "limits.mb-limit-mb-save", limit=1)
    assert not _kept(media)
    assert not Capture.objects.exists()


def test_a_file_at_the_limit_is_taken(cast: Cast, settings) -> None:
    settings.CAPTURE_LIMIT_MB = 1
    content = b"1,2\n" * 250_000
    assert len(content) == 1_000_000
    assert capture_add(member=cast.diagnostician, upload=upload_of(content)).capture


def test_the_same_content_is_noticed_and_not_stored_again(cast: Cast, media: Path) -> None:
    first = capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes())).capture
    again = capture_add(member=cast.owner, upload=upload_of(csv_bytes(), "other name.csv"))
    assert again == AddedCapture(duplicate_of=first)
    assert Capture.objects.count() == 1
    assert len(_kept(media)) == 1


def test_a_duplicate_that_is_wanted_shares_the_stored_file(cast: Cast, media: Path) -> None:
    first = capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes())).capture
    again = capture_add(
        member=cast.diagnostician, upload=upload_of(csv_bytes()), keep_duplicate=True
    ).capture
    assert first
    assert again
    assert first.pk != again.pk
    assert again.reading.pk != first.reading.pk
    assert again.original.name == first.original.name
    assert len(_kept(media)) == 1


def test_another_shops_capture_is_no_duplicate(cast: Cast) -> None:
    capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes()))
    other = capture_add(member=cast.outsider, upload=upload_of(csv_bytes()))
    assert other.capture
    assert other.capture.shop == cast.other_shop


@pytest.mark.django_db(transaction=True)
def test_a_double_submit_makes_one_capture(cast: Cast, media: Path) -> None:
    together = threading.Barrier(2)
    outcomes: list[AddedCapture] = []

    def submit() -> None:
        try:
            together.wait()
            outcomes.append(capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes())))
        finally:
            connection.close()

    threads = [threading.Thread(target=submit) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Capture.objects.count() == Reading.objects.count() == 1
    assert sorted(o.capture is None for o in outcomes) == [False, True]
    assert len(_kept(media)) == 1


def test_a_row_that_cannot_be_written_leaves_no_file(cast: Cast, media: Path, monkeypatch) -> None:
    def fail(*_args: object, **_kwargs: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(Reading.objects, "create", fail)
    with pytest.raises(OSError, match="disk full"):
        capture_add(member=cast.diagnostician, upload=upload_of(csv_bytes()))
    assert not _kept(media)
    assert not Capture.objects.exists()


def test_a_failed_reading_is_tried_again_and_no_other(reading: Reading) -> None:
    assert not reading_retry(reading=reading)
    Reading.objects.filter(pk=reading.pk).update(
        state=Work.State.FAILED, attempts=3, error="no", sent_at="2024-01-01T00:00Z"
    )
    assert reading_retry(reading=reading)
    assert not reading_retry(reading=reading)
    reading.refresh_from_db()
    assert (reading.state, reading.attempts, reading.error) == (Work.State.QUEUED, 0, "")
    assert reading.sent_at is None


class TestLimitHandler:
    """What is over the limit never reaches the handlers that keep it."""

    def _through(self, size: int) -> tuple[int, IncomingFile | None]:
        handler = LimitHandler()
        handler.new_file("file", "x.csv", "text/csv", None)
        passed = 0
        source = io.BytesIO(os.urandom(size))
        start = 0
        while chunk := source.read(65_536):
            given = handler.receive_data_chunk(chunk, start)
            passed += len(given or b"")
            start += len(chunk)
        return passed, handler.file_complete(start)

    def test_under_the_limit_all_goes_on(self, settings) -> None:
        settings.CAPTURE_LIMIT_MB = 1
        assert self._through(1_000_000) == (1_000_000, None)

    def test_over_the_limit_only_the_size_arrives(self, settings) -> None:
        settings.CAPTURE_LIMIT_MB = 1
        passed, upload = self._through(1_500_000)
        assert passed <= 1_000_000
        assert upload
        assert upload.size == 1_500_000
        assert upload.name == "x.csv"
        assert upload.read() == b""


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"Dear all,\nplease find attached.\n", None),
        (b"Time,A\n", None),
        (b"Time,A\n0,1\n", "only one row"),
        (b"Time\n" + b"\n".join(b"%d" % i for i in range(50)), "no signal"),
    ],
)
def test_text_that_is_no_recording_fails_in_the_worker_with_a_sentence(
    add_read: Callable[..., Capture], content: bytes, sentence: str | None
) -> None:
    reading = add_read(content).reading
    reading.refresh_from_db()
    assert reading.state == Work.State.FAILED
    assert reading.error.endswith(".")
    assert reading.error.count(". ") == 0
    assert not says(reading.error, "carrying.could-not-finished-fault")
    assert not reading.samples_file
    if sentence:
        assert sentence in reading.error
