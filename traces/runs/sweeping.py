"""Finding work that was lost: the queue is only a hint, the rows are the truth."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Q
from django.db.models.functions import Now

from traces.models import Work, WorkerBeat
from traces.runs.claims import give_up, is_stale
from traces.runs.debris import clear_debris
from traces.runs.sending import TASKS, send

UNSENT_FOR_S = 5.0
"""A row is sent as soon as it is committed; one that still was not is sent by the sweep."""

SENT_FOR_S = 60.0
"""A message may wait behind longer work; another one for the same row does no harm."""

_FORGET_BEATS_AFTER = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Swept:
    """What one sweep did, in rows."""

    sent: int = 0
    queue_down: bool = False
    freed: int = 0
    given_up: int = 0
    cleared: int = 0

    @property
    def anything(self) -> bool:
        """Whether there was something to do."""
        return any((self.sent, self.queue_down, self.freed, self.given_up, self.cleared))


def sweep(*, everything_queued: bool = False) -> Swept:
    """Free rows of workers that died, give up hopeless ones, send what waits unheard.

    Uploads that were left alone are cleared away too.

    Parameters
    ----------
    everything_queued
        Send every queued row, however fresh: at a worker's start, when messages may have
        died with the worker before.
    """
    sent = freed = given_up = 0
    queue_down = False
    for model in TASKS:
        rows = model._default_manager  # noqa: SLF001
        given_up += give_up(model, Q())
        freed += rows.filter(is_stale()).update(
            state=Work.State.QUEUED, attempt_token=None, sent_at=None
        )
        waiting = rows.filter(state=Work.State.QUEUED)
        if not everything_queued:
            waiting = waiting.filter(
                Q(sent_at=None, queued_at__lt=Now() - timedelta(seconds=UNSENT_FOR_S))
                | Q(sent_at__lt=Now() - timedelta(seconds=SENT_FOR_S))
            )
        for pk in waiting.order_by("queued_at", "pk").values_list("pk", flat=True):
            # Each further try would wait for the queue again.
            queue_down = queue_down or not send(model, pk)
            if queue_down:
                break
            sent += 1
    WorkerBeat.objects.filter(seen_at__lt=Now() - _FORGET_BEATS_AFTER).delete()
    return Swept(
        sent=sent,
        queue_down=queue_down,
        freed=freed,
        given_up=given_up,
        cleared=clear_debris(),
    )
