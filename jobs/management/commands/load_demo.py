"""Load the demo shop; with --wait, go on until the worker has analysed its captures."""

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from jobs.demo.load import begin, carry_on, demo_shop
from jobs.demo.story import PASSWORD, PEOPLE

_POLL_S = 0.25


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--wait",
            type=float,
            default=0.0,
            metavar="SECONDS",
            help="how long to wait for the worker's results at the most",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        begin(self._say)
        end = time.monotonic() + options["wait"]
        before = None
        while (waiting := carry_on()) and time.monotonic() < end:
            if waiting != before:
                self._say(f"The worker analyses the demo captures; {waiting} to go …")
                before = waiting
            time.sleep(_POLL_S)
        if waiting:
            self._say(f"{waiting} demo captures wait for the worker; the next start goes on.")
        if demo_shop():
            self._say("\nDemo sign-ins, all with the password “" + PASSWORD + "”:")
            for role, username, name in PEOPLE:
                self._say(f"  {username:12} {role.value:14} {name}")

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()
