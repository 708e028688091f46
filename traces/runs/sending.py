"""Telling the queue that a row waits."""

import logging

from celery import current_app
from django.db import DatabaseError
from django.db.models.functions import Now

from traces.models import Reading, Run, Work

logger = logging.getLogger(__name__)

# By name, because tasks stand above this layer.
TASKS: dict[type[Work], str] = {
    Reading: "traces.read_capture",
    Run: "traces.analyse_run",
}


def send(model: type[Work], pk: int) -> bool:
    """Send a row's number to the worker; a queue or database that is down is no error.

    The row is committed before, so nothing here may end the request that made it. The row stays
    queued, its page says that it was not sent, and the sweep sends it again.

    Returns
    -------
    bool
        Whether the queue took the message.
    """
    try:
        current_app.send_task(TASKS[model], args=[pk])
    except Exception as error:
        logger.warning("the queue did not take %s %s: %s", model.__name__, pk, error)
        return False
    waiting = model._default_manager.filter(pk=pk, state=Work.State.QUEUED)  # noqa: SLF001
    try:
        waiting.update(sent_at=Now())
    except DatabaseError as error:
        # It is committed and sent; only the sweep may send it once more.
        logger.warning("could not note that %s %s was sent: %s", model.__name__, pk, error)
    return True
