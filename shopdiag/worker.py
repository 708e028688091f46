"""The worker of a one-machine set-up: a child of the start command, never an orphan."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time

from django.conf import settings

PARENT_VARIABLE = "SHOPDIAG_PARENT_PID"
_STOP_WITHIN_S = 10.0


class WorkerKeeper:
    """Runs one worker process and starts it again when it dies."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._keep, name="worker-keeper", daemon=True)

    def start(self) -> None:
        """Start the worker and watch it."""
        self._process = _spawn()
        self._thread.start()

    def stop(self) -> None:
        """End the worker and whatever it started; a run it had begun is swept up later."""
        self._stopping.set()
        self._thread.join()
        process = self._process
        if process is None or process.poll() is not None:
            return
        process.terminate()
        try:
            process.wait(_STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            _kill_group(process)
            process.wait()

    def _keep(self) -> None:
        pause_s = 1.0
        while not self._stopping.wait(0.5):
            process = self._process
            if process is None or process.poll() is None:
                continue
            # Children of a worker that was killed would go on with its work beside the new one.
            _kill_group(process)
            if self._stopping.wait(pause_s):
                return
            pause_s = min(pause_s * 2, 30.0)
            self._process = _spawn()


def _spawn() -> subprocess.Popen[bytes]:
    pool = "solo" if sys.platform == "win32" else "prefork"
    command = [sys.executable, "-m", "celery", "-A", "shopdiag", "--quiet", "worker"]
    command += ["--concurrency", "1", "--pool", pool, "--loglevel", "WARNING"]
    command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
    return subprocess.Popen(  # noqa: S603 - every word of it is ours
        command,
        cwd=settings.BASE_DIR,
        env={**os.environ, PARENT_VARIABLE: str(os.getpid())},
        # Ctrl-C reaches the start command only, which then stops the worker in order.
        start_new_session=True,
    )


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    if sys.platform == "win32":
        process.kill()
        return
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)


def leave_with_parent() -> None:
    """End this worker when the start command that began it is gone, even by SIGKILL."""
    wanted = os.environ.get(PARENT_VARIABLE)
    if not wanted or sys.platform == "win32":
        return

    def watch() -> None:
        while os.getppid() == int(wanted):
            time.sleep(1.0)
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()
