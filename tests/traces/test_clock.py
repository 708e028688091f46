"""What is stale is told by the database's clock, whatever a host's own clock says."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from unittest.mock import Mock

import pytest
from celery import current_app
from django.utils import timezone

from tests.traces.conftest import csv_bytes
from traces.models import Capture, Reading, Work, WorkerBeat
from traces.runs.claims import claim, finish
from traces.runs.presence import beat, is_worker_there
from traces.runs.sending import send
from traces.runs.sweeping import sweep
from traces.selectors.clock import database_now

_OFF = [timedelta(hours=-2), timedelta(hours=2)]


@pytest.fixture
def queue(monkeypatch: pytest.MonkeyPatch) -> Mock:
    sent = Mock()
    monkeypatch.setattr(current_app, "send_task", sent)
    return sent


@pytest.fixture
def host_clock(monkeypatch: pytest.MonkeyPatch) -> Callable:
    """Set this host's clock wrong for a while."""

    @contextmanager
    def wrong_by(off: timedelta) -> Iterator[None]:
        with monkeypatch.context() as patch:
            patch.setattr(timezone, "now", lambda: datetime.now(UTC) + off)
            yield

    return wrong_by


def test_the_databases_clock_is_aware_and_right_on_one_machine(db: None) -> None:
    before = datetime.now(UTC)
    found = database_now()
    assert found.tzinfo is not None
    # a millisecond of rounding
    assert before - timedelta(seconds=0.01) <= found <= datetime.now(UTC) + timedelta(seconds=0.01)


@pytest.mark.parametrize("off", _OFF)
def test_a_sweep_on_a_host_with_a_wrong_clock_leaves_a_living_workers_row(
    reading: Reading, queue: Mock, host_clock: Callable, off: timedelta
) -> None:
    assert claim(Reading, reading.pk)
    with host_clock(off):
        swept = sweep()
        assert claim(Reading, reading.pk) is None
    assert (swept.freed, swept.given_up) == (0, 0)


@pytest.mark.parametrize("off", _OFF)
def test_a_dead_workers_row_is_freed_whatever_the_workers_clock_said(
    reading: Reading, queue: Mock, host_clock: Callable, settings, off: timedelta
) -> None:
    with host_clock(off):
        assert claim(Reading, reading.pk)
    assert sweep().freed == 0
    settings.WORKER_STALE_S = -1  # as if so much time had passed
    assert sweep().freed == 1


@pytest.mark.parametrize("off", _OFF)
def test_times_of_a_row_are_the_databases(
    add: Callable[..., Capture], queue: Mock, host_clock: Callable, off: timedelta
) -> None:
    before = database_now()
    with host_clock(off):
        reading = add(csv_bytes()).reading
        assert send(Reading, reading.pk)
        token = claim(Reading, reading.pk)
        assert token
        assert finish(Reading, reading.pk, token)
    reading.refresh_from_db()
    assert reading.state == Work.State.DONE
    for at in (reading.queued_at, reading.sent_at, reading.started_at, reading.finished_at):
        assert at is not None
        assert before - timedelta(seconds=1) <= at <= database_now() + timedelta(seconds=1)


@pytest.mark.parametrize("off", _OFF)
def test_a_worker_is_there_whatever_either_clock_says(
    db: None, host_clock: Callable, off: timedelta
) -> None:
    with host_clock(off):
        beat("celery@bench")
    assert is_worker_there()
    with host_clock(off):
        assert is_worker_there()
    WorkerBeat.objects.update(seen_at=database_now() - timedelta(hours=1))
    with host_clock(off):
        assert not is_worker_there()


def test_the_page_of_a_web_host_with_a_wrong_clock_sees_the_worker(
    add: Callable[..., Capture], page: Callable[..., str], host_clock: Callable
) -> None:
    beat("celery@bench")
    capture = add()
    Reading.objects.update(state=Work.State.RUNNING, attempts=1, heartbeat_at=database_now())
    with host_clock(timedelta(minutes=20)):
        text = page(capture)
    assert "went silent" not in text
