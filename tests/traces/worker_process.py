"""A real worker in a process of its own, on the test's database, files and queue."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]
STALE_S = 2
_WORKER = (
    "-A shopdiag --quiet worker --concurrency 1 --loglevel WARNING "
    "--without-gossip --without-mingle --without-heartbeat"
)
_DEADLINE_S = 90.0


def environment(media_root: Path) -> dict[str, str]:
    """Return the environment that makes another process work on what the test sees."""
    db = connection.settings_dict
    if connection.vendor == "sqlite":
        url = f"sqlite:///{db['NAME']}"
    else:
        url = f"postgres://{db['USER']}:{db['PASSWORD']}@{db['HOST']}:{db['PORT']}/{db['NAME']}"
    return {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "shopdiag.settings",
        "DATA_DIR": str(settings.DATA_DIR),
        "DATABASE_URL": url,
        "BROKER_URL": settings.BROKER_URL,
        "MEDIA_ROOT": str(media_root),
        "WORKER_STALE_S": str(STALE_S),
    }


class WorkerProcess:
    """The worker and whatever it starts, as one group that can be killed at once."""

    def __init__(self, media_root: Path) -> None:
        self._environment = environment(media_root)
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        assert self._process is None
        self._process = subprocess.Popen(
            [sys.executable, "-m", "celery", *_WORKER.split()],
            cwd=ROOT,
            env=self._environment,
            start_new_session=True,
        )

    def kill(self) -> None:
        """End all of it the hard way, as when the power goes."""
        self._end(signal.SIGKILL)

    def terminate(self) -> int:
        """Ask it to end after the work at hand; return its exit status."""
        assert self._process is not None
        self._process.send_signal(signal.SIGTERM)
        status = self._process.wait(60)
        self._process = None
        return status

    def clean_up(self) -> None:
        """Leave nothing running."""
        if self._process is not None:
            self._end(signal.SIGKILL)

    def _end(self, number: signal.Signals) -> None:
        assert self._process is not None
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._process.pid, number)
        self._process.wait()
        self._process = None


def wait_until(holds: Callable[[], bool], what: str) -> None:
    """Wait for another process; the deadline only ends a test that has failed anyway."""
    deadline = time.monotonic() + _DEADLINE_S
    while not holds():
        assert time.monotonic() < deadline, f"waited {_DEADLINE_S:.0f} s and {what}"
        time.sleep(0.1)
