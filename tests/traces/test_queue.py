"""The worker as a process: it reads, it says that it is there, and a killed one loses nothing."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from celery import current_app
from django.conf import settings
from django.core.management import call_command
from django.utils import timezone

from tests.conftest import Cast
from tests.traces.conftest import reference, reference_setup
from tests.traces.worker_process import ROOT, WorkerProcess, environment, wait_until
from traces.models import Capture, Reading, Run, Work, WorkerBeat
from traces.runs.presence import is_worker_there
from traces.services import run_add

pytestmark = [pytest.mark.queue, pytest.mark.django_db(transaction=True)]

EMBEDDED = settings.BROKER_URL.startswith("filesystem")


@pytest.fixture
def worker(media: Path) -> Iterator[WorkerProcess]:
    """A worker that is not started yet, on a queue without messages of other tests."""
    if EMBEDDED:
        for message in (settings.QUEUE_DIR / "in").glob("*.msg"):
            message.unlink()
    else:
        current_app.control.purge()
    process = WorkerProcess(media)
    yield process
    process.clean_up()


def _sweep_where_the_worker_does_not() -> None:
    if not EMBEDDED:
        call_command("sweep", "--once")


def test_the_worker_says_that_it_is_there_and_reads_what_waited(
    worker: WorkerProcess, reading: Reading
) -> None:
    worker.start()
    wait_until(is_worker_there, "no worker said that it is there")

    def settled() -> bool:
        reading.refresh_from_db()
        return reading.is_settled

    wait_until(settled, "the file was not read")
    assert (reading.state, reading.error) == (Work.State.DONE, "")
    assert [c["name"] for c in reading.channels] == ["clamp", "coil"]
    assert reading.understood["rate_hz"] == 1000.0
    assert worker.terminate() == 0
    assert WorkerBeat.objects.count() == 1


def test_a_worker_killed_in_mid_run_finishes_the_run_once_when_it_is_started_again(
    worker: WorkerProcess, add_read: Callable[..., Capture], cast: Cast, media: Path
) -> None:
    path = reference("ref-01.csv")
    capture = add_read(path.read_bytes(), name=path.name)
    # A pipe in place of the samples holds the worker in mid-run for as long as it takes:
    # opening it for reading waits until somebody opens it for writing, which nobody does.
    samples = media / capture.reading.samples_file
    aside = samples.with_suffix(".aside")
    samples.rename(aside)
    os.mkfifo(samples)
    run = run_add(member=cast.diagnostician, capture=capture, analysis=reference_setup(path.name))

    def has(state: str) -> Callable[[], bool]:
        def check() -> bool:
            run.refresh_from_db()
            return run.state == state

        return check

    worker.start()
    wait_until(has(Work.State.RUNNING), "the run did not start")
    worker.kill()
    run.refresh_from_db()
    assert (run.state, run.attempts, run.result) == (Work.State.RUNNING, 1, None)

    samples.unlink()
    aside.rename(samples)
    worker.start()

    def settled() -> bool:
        _sweep_where_the_worker_does_not()
        run.refresh_from_db()
        return run.is_settled

    wait_until(settled, "the run was not taken up again")
    assert (run.state, run.attempts, run.error) == (Work.State.DONE, 2, "")
    assert run.report
    assert run.report.candidates == ((1,),)
    assert run.sha256 == capture.sha256

    # Whatever messages are left change nothing: another capture goes through after them.
    finished_at, result = run.finished_at, run.result
    other = run_add(member=cast.diagnostician, capture=capture, analysis=reference_setup(path.name))

    def other_settled() -> bool:
        _sweep_where_the_worker_does_not()
        other.refresh_from_db()
        return other.is_settled

    wait_until(other_settled, "the next run was not done")
    assert worker.terminate() == 0
    run.refresh_from_db()
    assert (run.attempts, run.finished_at, run.result) == (2, finished_at, result)
    assert Run.objects.count() == 2


def test_the_sweep_command_ends_cleanly_when_asked(reading: Reading, media: Path) -> None:
    Reading.objects.filter(pk=reading.pk).update(
        queued_at=timezone.now() - timedelta(minutes=5), sent_at=None
    )
    process = subprocess.Popen(
        [sys.executable, "manage.py", "sweep"],
        cwd=ROOT,
        env=environment(media),
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout
        # It has swept once, so its signal handlers stand.
        assert process.stdout.readline() == "sent 1, freed 0, given up 0\n"
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
    finally:
        process.kill()
        process.communicate()
