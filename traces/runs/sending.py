"""Telling the queue that a row waits."""

import logging

from celery import current_app
from django.db.models.functions import Now

from traces.models import Reading, Run, Work

logger = logging.getLogger(__name__)

# By name, because tasks stand above this layer.
TASKS: dict[type[Work], str] = {
    Reading: "traces.read_capture",
    Run: "traces.analyse_run",
}


def send(model: type[Work], pk: int) -> bool:
    """Send a row's number to the worker; a queue that is down is no error.

    The row stays queued, its page says that it was not sent, and the sweep sends it again.

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
    model._default_manager.filter(pk=pk, state=Work.State.QUEUED).update(sent_at=Now())  # noqa: SLF001
    return True
