"""Find lost work and send it again, until told to stop."""

import signal
import socket
import threading
from argparse import ArgumentParser
from contextlib import suppress
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from traces.runs.presence import SWEEP_EVERY_S, is_worker_there
from traces.runs.sweeping import sweep


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="sweep once and end")
        parser.add_argument(
            "--check",
            action="store_true",
            help="only say whether a worker on this host is there; exit status 1 if not",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["check"]:
            if not is_worker_there(host=socket.gethostname()):
                raise CommandError("No worker on this host has reported lately.")
            return
        if options["once"]:
            self._sweep()
            return
        stop = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: stop.set())
        while True:
            try:
                self._sweep()
            except Exception as error:
                # Whatever it is, without a sweep lost work would wait for ever.
                self.stderr.write(f"This sweep failed ({error!r}); the next one tries again.")
            _close()
            if stop.wait(SWEEP_EVERY_S):
                return

    def _sweep(self) -> None:
        swept = sweep()
        if swept.anything:
            self.stdout.write(
                f"sent {swept.sent}, freed {swept.freed}, given up {swept.given_up}"
                + (f", cleared {swept.cleared} left of uploads" if swept.cleared else "")
                + (", the queue is down" if swept.queue_down else "")
                + (f", {swept.failed} steps failed" if swept.failed else "")
            )
            self.stdout.flush()


def _close() -> None:
    """Let go of the database; a connection that broke can complain about that too."""
    with suppress(Exception):
        connection.close()
