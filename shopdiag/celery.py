"""The queue: Redis or RabbitMQ by BROKER_URL, or a folder on this machine without one.

The row in the database is the truth and a message only a hint (see traces.runs), so no
result is ever kept in the queue.
"""

import os
import warnings
from typing import Any

from celery import Celery
from celery.exceptions import SecurityWarning
from celery.signals import worker_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopdiag.settings")

from django.conf import settings

# A page that waits for a queue which is down helps nobody: its row is swept up later.
_SOON_GIVEN_UP = {"max_retries": 1, "interval_start": 0, "interval_step": 0.2, "interval_max": 0.2}

_FOLDER = "shopdiag.folder_queue:Transport"


def _broker_options(url: str) -> dict[str, Any]:
    if url.startswith("filesystem"):
        folders = {name: settings.QUEUE_DIR / name for name in ("in", "done", "control")}
        for folder in folders.values():
            folder.mkdir(parents=True, exist_ok=True)
        return {
            "data_folder_in": str(folders["in"]),
            "data_folder_out": str(folders["in"]),
            "processed_folder": str(folders["done"]),
            "control_folder": str(folders["control"]),
            "store_processed": True,
            "polling_interval": 0.2,
        }
    if url.startswith("redis"):
        return {
            **_SOON_GIVEN_UP,
            "socket_connect_timeout": 3,
            "visibility_timeout": 1800,
            # Defaults leave the messages of a killed worker for minutes.
            "unacked_restore_interval": 2,
            "unacked_restore_throttle": 1,
        }
    return _SOON_GIVEN_UP


# The warning is about messages that run code; only JSON is accepted here.
warnings.filterwarnings("ignore", category=SecurityWarning)

app = Celery("shopdiag")
app.conf.update(
    broker_url=settings.BROKER_URL,
    broker_transport=_FOLDER if settings.BROKER_URL.startswith("filesystem") else None,
    broker_transport_options=_broker_options(settings.BROKER_URL),
    broker_connection_retry_on_startup=True,
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    task_serializer="json",
    accept_content=["json"],
    worker_prefetch_multiplier=1,
    worker_hijack_root_logger=False,
    worker_enable_remote_control=False,
    task_publish_retry=False,
    task_default_queue="shopdiag",
    task_routes={"jobs.mail_*": {"queue": settings.MAIL_QUEUE}} if settings.MAIL_QUEUE else None,
    timezone="UTC",
)
app.autodiscover_tasks()


@worker_init.connect
def _leave_with_parent(**_kwargs: object) -> None:
    from shopdiag.worker import leave_with_parent  # noqa: PLC0415 - for workers only

    leave_with_parent()
