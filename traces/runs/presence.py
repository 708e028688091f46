"""A worker says that it is there, and sweeps where nobody else does."""

import logging
import threading
import time
from contextlib import suppress
from datetime import timedelta

from django.conf import settings
from django.db import connection
from django.db.models.functions import Now

from traces.models import WorkerBeat
from traces.runs.sweeping import sweep

logger = logging.getLogger(__name__)

BEAT_EVERY_S = 5.0
SWEEP_EVERY_S = 30.0
FRESH_FOR_S = 3 * BEAT_EVERY_S
"""A worker that was silent for longer counts as gone."""

MAIL_WORKER = "mail@"
"""How the name of a worker begins that only sends e-mail."""

_KEEP_MESSAGES_S = 24 * 3600.0


def beat(name: str) -> None:
    """Note that the worker `name` is there now."""
    WorkerBeat.objects.update_or_create(name=name, defaults={"seen_at": Now()})


def is_worker_there(*, host: str | None = None) -> bool:
    """Return whether a worker (on `host`, where given) said so lately.

    One that only sends e-mail analyses nothing and counts on its own host alone.
    """
    beats = WorkerBeat.objects.filter(seen_at__gte=Now() - timedelta(seconds=FRESH_FOR_S))
    if host is None:
        beats = beats.exclude(name__startswith=MAIL_WORKER)
    else:
        beats = beats.filter(name__endswith=f"@{host}")
    return beats.exists()


def forget_old_messages() -> int:
    """Remove messages that a folder as queue keeps after they were taken; return how many."""
    limit = time.time() - _KEEP_MESSAGES_S
    old = [p for p in (settings.QUEUE_DIR / "done").glob("*.msg") if p.stat().st_mtime < limit]
    for path in old:
        path.unlink(missing_ok=True)
    return len(old)


class Presence:
    """A thread of the worker's main process: a beat every few seconds and, if asked, sweeps.

    Parameters
    ----------
    name
        The worker's name in the queue.
    sweeping
        Whether this worker is the only one and sweeps too: at its start, when messages may
        have died with the worker before it, and every half minute.
    """

    def __init__(self, name: str, *, sweeping: bool) -> None:
        self._name = name
        self._sweeping = sweeping
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live, name="presence", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def stop(self) -> None:
        """End the thread and wait for it."""
        self._stop.set()
        self._thread.join()

    def _live(self) -> None:
        if self._sweeping:
            forget_old_messages()
        first = True
        swept_at = time.monotonic()
        sweep_every_s = min(SWEEP_EVERY_S, settings.WORKER_STALE_S)
        while True:
            try:
                beat(self._name)
                due = first or time.monotonic() - swept_at >= sweep_every_s
                if self._sweeping and due:
                    sweep(everything_queued=first)
                    swept_at = time.monotonic()
                first = False
            except Exception:
                # Whatever it is: without this thread nobody would know that the worker lives.
                logger.warning("could not write that the worker is there", exc_info=True)
            # None stays open: the pool may fork a process at any time.
            with suppress(Exception):
                connection.close()
            if self._stop.wait(min(BEAT_EVERY_S, sweep_every_s)):
                return
