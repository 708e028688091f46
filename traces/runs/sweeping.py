"""Finding work that was lost: the queue is only a hint, the rows are the truth."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from django.db import connection
from django.db.models import Q
from django.db.models.functions import Now

from traces.models import Work, WorkerBeat
from traces.runs.claims import give_up, is_stale
from traces.runs.sending import TASKS, send
from traces.runs.uploads import uploads_clear

UNSENT_FOR_S = 5.0
"""A row is sent as soon as it is committed; one that still was not is sent by the sweep."""

SENT_FOR_S = 60.0
"""A message may wait behind longer work; another one for the same row does no harm."""

_FORGET_BEATS_AFTER = timedelta(days=1)

_ANALYSED_ROWS = 1000
"""Of each index, as SQLite's own documentation of `PRAGMA optimize` advises."""

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Swept:
    """What one sweep did, in rows."""

    sent: int = 0
    queue_down: bool = False
    freed: int = 0
    given_up: int = 0
    cleared: int = 0
    failed: int = 0
    """Steps that ended in an error."""

    def __add__(self, other: "Swept") -> "Swept":
        return Swept(
            sent=self.sent + other.sent,
            queue_down=self.queue_down or other.queue_down,
            freed=self.freed + other.freed,
            given_up=self.given_up + other.given_up,
            cleared=self.cleared + other.cleared,
            failed=self.failed + other.failed,
        )

    @property
    def anything(self) -> bool:
        """Whether there was something to do."""
        return self != Swept()


def sweep(*, everything_queued: bool = False) -> Swept:
    """Free rows of workers that died, give up hopeless ones, send what waits unheard.

    Uploads that were left alone are cleared away too.

    Parameters
    ----------
    everything_queued
        Send every queued row, however fresh: at a worker's start, when messages may have
        died with the worker before.
    """
    swept = Swept()
    for model in TASKS:
        swept += _step(partial(_give_up, model))
        swept += _step(partial(_free, model))
    for model in TASKS:
        if not swept.queue_down:
            # Each further try would wait for the queue again.
            swept += _step(partial(_send_waiting, model, everything_queued))
    swept += _step(_forget_beats)
    swept += _step(_clear)
    swept += _step(_refresh_statistics)
    return swept


def _step(step: Callable[[], Swept]) -> Swept:
    """Do one step; an error in it keeps no other one from being done."""
    try:
        return step()
    except Exception:
        logger.exception("a step of the sweep failed; the next sweep tries it again")
        return Swept(failed=1)


def _give_up(model: type[Work]) -> Swept:
    return Swept(given_up=give_up(model, Q()))


def _free(model: type[Work]) -> Swept:
    rows = model._default_manager  # noqa: SLF001
    freed = rows.filter(is_stale()).update(
        state=Work.State.QUEUED, attempt_token=None, sent_at=None
    )
    return Swept(freed=freed)


def _send_waiting(model: type[Work], everything_queued: bool) -> Swept:
    waiting = model._default_manager.filter(state=Work.State.QUEUED)  # noqa: SLF001
    if not everything_queued:
        waiting = waiting.filter(
            Q(sent_at=None, queued_at__lt=Now() - timedelta(seconds=UNSENT_FOR_S))
            | Q(sent_at__lt=Now() - timedelta(seconds=SENT_FOR_S))
        )
    sent = 0
    for pk in waiting.order_by("pk").values_list("pk", flat=True):
        if not send(model, pk):
            return Swept(sent=sent, queue_down=True)
        sent += 1
    return Swept(sent=sent)


def _forget_beats() -> Swept:
    WorkerBeat.objects.filter(seen_at__lt=Now() - _FORGET_BEATS_AFTER).delete()
    return Swept()


def _clear() -> Swept:
    return Swept(cleared=uploads_clear())


def _refresh_statistics() -> Swept:
    """Let SQLite look at its tables where that is due, so that it plans by their real sizes."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA analysis_limit={_ANALYSED_ROWS}")
            cursor.execute("PRAGMA optimize=0x10002")
    return Swept()
