"""Lost work is found: the rows are the truth, the queue is only a hint."""

import os
import socket
import time
from collections.abc import Callable
from datetime import timedelta
from unittest.mock import Mock

import pytest
from celery import current_app
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection
from django.utils import timezone
from kombu.exceptions import OperationalError

from traces.models import Capture, Reading, Work, WorkerBeat
from traces.runs.claims import GAVE_UP, MOST_ATTEMPTS
from traces.runs.presence import FRESH_FOR_S, beat, forget_old_messages, is_worker_there
from traces.runs.sending import TASKS, send
from traces.runs.sweeping import SENT_FOR_S, UNSENT_FOR_S, sweep


@pytest.fixture
def queue(monkeypatch: pytest.MonkeyPatch) -> Mock:
    """Stand in for the queue and note what it is given."""
    sent = Mock()
    monkeypatch.setattr(current_app, "send_task", sent)
    return sent


def _set(reading: Reading, **ages_s: float | None) -> None:
    now = timezone.now()
    Reading.objects.filter(pk=reading.pk).update(
        **{k: None if v is None else now - timedelta(seconds=v) for k, v in ages_s.items()}
    )


def test_a_row_that_was_never_sent_is_sent(reading: Reading, queue: Mock) -> None:
    _set(reading, queued_at=UNSENT_FOR_S + 1, sent_at=None)
    assert sweep().sent == 1
    queue.assert_called_once_with("traces.read_capture", args=[reading.pk])
    reading.refresh_from_db()
    assert reading.sent_at is not None


@pytest.mark.parametrize(("queued_s", "sent_s"), [(UNSENT_FOR_S - 4, None), (500, SENT_FOR_S - 5)])
def test_a_row_whose_message_may_still_come_is_left(
    reading: Reading, queue: Mock, queued_s: float, sent_s: float | None
) -> None:
    _set(reading, queued_at=queued_s, sent_at=sent_s)
    assert not sweep().anything
    queue.assert_not_called()


def test_a_row_sent_long_ago_is_sent_again(reading: Reading, queue: Mock) -> None:
    _set(reading, queued_at=500, sent_at=SENT_FOR_S + 1)
    assert sweep().sent == 1
    assert sweep().sent == 0


def test_at_a_workers_start_every_queued_row_is_sent(reading: Reading, queue: Mock) -> None:
    _set(reading, queued_at=1, sent_at=1)
    assert sweep(everything_queued=True).sent == 1


def test_a_dead_workers_row_is_freed_and_sent(reading: Reading, queue: Mock, settings) -> None:
    Reading.objects.filter(pk=reading.pk).update(state=Work.State.RUNNING, attempts=1)
    _set(reading, heartbeat_at=settings.WORKER_STALE_S + 1, queued_at=100, sent_at=100)
    swept = sweep()
    assert (swept.freed, swept.sent) == (1, 1)
    reading.refresh_from_db()
    assert reading.state == Work.State.QUEUED
    assert reading.attempt_token is None


def test_a_living_workers_row_is_left(reading: Reading, queue: Mock) -> None:
    Reading.objects.filter(pk=reading.pk).update(state=Work.State.RUNNING, attempts=1)
    _set(reading, heartbeat_at=1)
    assert not sweep().anything


def test_a_row_past_its_attempts_is_given_up(reading: Reading, queue: Mock, settings) -> None:
    Reading.objects.filter(pk=reading.pk).update(state=Work.State.RUNNING, attempts=MOST_ATTEMPTS)
    _set(reading, heartbeat_at=settings.WORKER_STALE_S + 1)
    assert sweep().given_up == 1
    queue.assert_not_called()
    reading.refresh_from_db()
    assert (reading.state, reading.error) == (Work.State.FAILED, GAVE_UP)


def test_a_queue_that_is_down_is_asked_once_and_loses_nothing(
    add: Callable[..., Capture], queue: Mock
) -> None:
    first, second = add(b"Time,A\n0,1\n1,2\n").reading, add(b"Time,A\n0,1\n1,3\n").reading
    queue.side_effect = OperationalError("connection refused")
    swept = sweep(everything_queued=True)
    assert swept.queue_down
    assert queue.call_count == 1
    queue.side_effect = None
    assert sweep(everything_queued=True).sent == 2
    for reading in (first, second):
        reading.refresh_from_db()
        assert reading.state == Work.State.QUEUED
        assert reading.sent_at is not None


def test_a_worker_counts_as_there_while_its_beat_is_fresh(db: None) -> None:
    assert not is_worker_there()
    beat("celery@bench")
    beat("celery@bench")
    assert WorkerBeat.objects.count() == 1
    assert is_worker_there()
    assert is_worker_there(host="bench")
    assert not is_worker_there(host="other")
    WorkerBeat.objects.update(seen_at=timezone.now() - timedelta(seconds=FRESH_FOR_S + 1))
    assert not is_worker_there()


def test_beats_of_workers_long_gone_are_forgotten(db: None, queue: Mock) -> None:
    beat("celery@old")
    WorkerBeat.objects.update(seen_at=timezone.now() - timedelta(days=2))
    beat("celery@new")
    sweep()
    assert [b.name for b in WorkerBeat.objects.all()] == ["celery@new"]


def test_old_messages_of_a_folder_as_queue_are_removed(settings, tmp_path) -> None:
    settings.QUEUE_DIR = tmp_path
    done = tmp_path / "done"
    done.mkdir()
    for name, age_s in (("old.msg", 2 * 86_400), ("fresh.msg", 60), ("old.txt", 2 * 86_400)):
        path = done / name
        path.write_text("{}")
        at = time.time() - age_s
        os.utime(path, (at, at))
    assert forget_old_messages() == 1
    assert sorted(p.name for p in done.iterdir()) == ["fresh.msg", "old.txt"]


def test_the_command_sweeps_once_and_says_what_it_did(
    reading: Reading, queue: Mock, capsys: pytest.CaptureFixture[str]
) -> None:
    _set(reading, queued_at=100, sent_at=None)
    call_command("sweep", "--once")
    assert capsys.readouterr().out == "sent 1, freed 0, given up 0\n"
    call_command("sweep", "--once")
    assert capsys.readouterr().out == ""


def test_the_command_checks_for_a_worker_on_this_host(db: None) -> None:
    with pytest.raises(CommandError, match="No worker on this host"):
        call_command("sweep", "--check")
    beat(f"celery@{socket.gethostname()}")
    call_command("sweep", "--check")


def test_an_error_in_one_step_keeps_no_other_from_being_done(
    reading: Reading, queue: Mock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each step may meet a row, a folder or a database that is broken."""
    _set(reading, queued_at=UNSENT_FOR_S + 1, sent_at=None)
    broken = Mock(side_effect=RuntimeError("a broken row"))
    monkeypatch.setattr("traces.runs.sweeping.give_up", broken)
    monkeypatch.setattr("traces.runs.sweeping.uploads_clear", broken)
    swept = sweep()
    assert (swept.sent, swept.failed) == (1, len(TASKS) + 1)
    assert swept.anything


def test_the_command_goes_on_after_any_error(monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    tries = Mock(side_effect=[RuntimeError("odd"), KeyError("x"), KeyboardInterrupt])
    monkeypatch.setattr("traces.management.commands.sweep.sweep", tries)
    monkeypatch.setattr("traces.management.commands.sweep.SWEEP_EVERY_S", 0.0)
    monkeypatch.setattr("signal.signal", Mock())
    with pytest.raises(KeyboardInterrupt):
        call_command("sweep")
    assert tries.call_count == 3
    assert capsys.readouterr().err.count("failed") == 2


def test_a_database_that_is_busy_after_the_commit_ends_no_request(
    reading: Reading, queue: Mock, monkeypatch: pytest.MonkeyPatch
) -> None:
    busy = Mock(side_effect=DatabaseError("locked"))
    monkeypatch.setattr("django.db.models.query.QuerySet.update", busy)
    assert send(Reading, reading.pk)
    monkeypatch.undo()
    reading.refresh_from_db()
    assert reading.sent_at is None


@pytest.mark.django_db(transaction=True)
def test_sqlite_knows_how_large_its_tables_are(queue: Mock, reading: Reading) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL analyses by itself")
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE IF EXISTS sqlite_stat1")
        sweep()
        cursor.execute("SELECT count(*) FROM sqlite_stat1 WHERE tbl = 'traces_capture'")
        assert cursor.fetchone()[0] > 0
