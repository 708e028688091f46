"""Telling the queue that a row waits."""

import logging
from datetime import datetime

from celery import current_app
from django.utils import timezone

from traces.models import Reading, Run, Work

logger = logging.getLogger(__name__)

# By name, because tasks stand above this layer.
TASKS: dict[type[Work], str] = {
    Reading: "traces.read_capture",
    Run: "traces.analyse_run",
}


def send(model: type[Work], pk: int) -> datetime | None:
    """Send a row's number to the worker; a queue that is down is no error.

    The row stays queued, its page says that it was not sent, and the sweep sends it again.

    Returns
    -------
    datetime | None
        When the queue took the message, or None.
    """
    try:
        current_app.send_task(TASKS[model], args=[pk])
    except Exception as error:
        logger.warning("the queue did not take %s %s: %s", model.__name__, pk, error)
        return None
    now = timezone.now()
    model._default_manager.filter(pk=pk, state=Work.State.QUEUED).update(sent_at=now)  # noqa: SLF001
    return now
