"""Owning a row: claimed by one conditional UPDATE, kept by a heartbeat, settled once."""

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from types import TracebackType
from typing import Any, TypeVar
from uuid import UUID, uuid4

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import F, Q
from django.db.models.functions import Now
from django.utils.translation import gettext_noop

from traces.models import Work

logger = logging.getLogger(__name__)

MOST_ATTEMPTS = 3
# Written out, so that it is one text; kept in English, and translated where it is read.
GAVE_UP = gettext_noop(
    "The worker stopped 3 times while it was busy with this, so it was given up; check that the "
    "machine has enough memory and disk space, then try again."
)

_Work = TypeVar("_Work", bound=Work)


def is_stale() -> Q:
    """Return the condition for rows whose worker has not been heard of for too long.

    By the database's clock, which also dates the heartbeats: hosts' clocks differ.
    """
    limit = Now() - timedelta(seconds=settings.WORKER_STALE_S)
    return Q(state=Work.State.RUNNING) & (Q(heartbeat_at=None) | Q(heartbeat_at__lt=limit))


def claim(model: type[_Work], pk: int) -> UUID | None:
    """Make the caller the owner of a queued or orphaned row.

    Returns
    -------
    UUID | None
        The token that `finish` and `fail` ask for; None when the row is somebody else's,
        settled, gone, or has been tried too often (then it is settled as failed).
    """
    token = uuid4()
    free = model._default_manager.filter(Q(state=Work.State.QUEUED) | is_stale(), pk=pk)  # noqa: SLF001
    claimed = free.filter(attempts__lt=MOST_ATTEMPTS).update(
        state=Work.State.RUNNING,
        attempts=F("attempts") + 1,
        attempt_token=token,
        started_at=Now(),
        heartbeat_at=Now(),
        error="",
    )
    if claimed:
        return token
    give_up(model, Q(pk=pk))
    return None


def give_up(model: type[_Work], which: Q) -> int:
    """Settle rows as failed that nobody works on and that used up their attempts."""
    return model._default_manager.filter(  # noqa: SLF001
        Q(state=Work.State.QUEUED) | is_stale(), which, attempts__gte=MOST_ATTEMPTS
    ).update(state=Work.State.FAILED, attempt_token=None, finished_at=Now(), error=GAVE_UP)


def finish(model: type[_Work], pk: int, token: UUID, **fields: Any) -> bool:  # noqa: ANN401 - column values
    """Settle a row as done and write `fields`, if the caller still owns it."""
    return _settle(model, pk, token, state=Work.State.DONE, **fields)


def fail(model: type[_Work], pk: int, token: UUID, *, error: str, **fields: Any) -> bool:  # noqa: ANN401 - column values
    """Settle a row as failed with one sentence for the user, if the caller still owns it."""
    return _settle(model, pk, token, state=Work.State.FAILED, error=error, **fields)


def _settle(model: type[_Work], pk: int, token: UUID, **fields: Any) -> bool:  # noqa: ANN401 - column values
    settled = model._default_manager.filter(  # noqa: SLF001
        pk=pk, state=Work.State.RUNNING, attempt_token=token
    ).update(finished_at=Now(), **fields)
    return settled == 1


@contextmanager
def heartbeat(model: type[_Work], pk: int, token: UUID) -> Iterator[None]:
    """Say every few seconds that the row's owner is alive, on a connection of its own."""
    with _Heart(model, pk, token):
        yield


class _Heart:
    """The thread behind `heartbeat`; it ends by itself once the row is somebody else's."""

    def __init__(self, model: type[Work], pk: int, token: UUID) -> None:
        self._mine = model._default_manager.filter(  # noqa: SLF001
            pk=pk, state=Work.State.RUNNING, attempt_token=token
        )
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._beat, name="heartbeat", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop.set()
        self._thread.join()

    def _beat(self) -> None:
        try:
            while not self._stop.wait(settings.WORKER_STALE_S / 3):
                try:
                    if not self._mine.all().update(heartbeat_at=Now()):
                        return
                except DatabaseError:
                    logger.warning("could not write a heartbeat", exc_info=True)
                    connection.close()
        finally:
            connection.close()
