"""Entrances of the worker: take a row's number, call one function."""

from typing import Any

from celery import shared_task
from celery.signals import worker_ready, worker_shutdown
from django.conf import settings

from traces.models import Reading, Run
from traces.runs.analysing import run_analyse
from traces.runs.presence import Presence
from traces.runs.reading import reading_read
from traces.runs.sending import TASKS

SOFT_LIMIT_S = 15 * 60
"""Under the queue's visibility timeout, so that no message is handed out twice before it."""
HARD_LIMIT_S = SOFT_LIMIT_S + 60


@shared_task(name=TASKS[Reading], soft_time_limit=SOFT_LIMIT_S, time_limit=HARD_LIMIT_S)
def read_capture(reading_id: int) -> None:
    """Read a capture's file."""
    reading_read(reading_id)


@shared_task(name=TASKS[Run], soft_time_limit=SOFT_LIMIT_S, time_limit=HARD_LIMIT_S)
def analyse_run(run_id: int) -> None:
    """Analyse a capture as one run's set-up says."""
    run_analyse(run_id)


_presences: list[Presence] = []


@worker_ready.connect
def _worker_is_there(sender: Any, **_kwargs: object) -> None:  # noqa: ANN401 - Celery's signature
    # A folder as queue serves one machine, where nobody else sweeps.
    presence = Presence(str(sender.hostname), sweeping=settings.BROKER_URL.startswith("filesystem"))
    _presences.append(presence)
    presence.start()


@worker_shutdown.connect
def _worker_leaves(**_kwargs: object) -> None:
    while _presences:
        _presences.pop().stop()
