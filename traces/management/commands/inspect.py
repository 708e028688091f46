"""Say what a recording was understood to be, without server, queue or database."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from traces.core.readers import ReadError, inspection, read, text_of, unreadable

_UNUSABLE = 2


class Command(BaseCommand):
    help = __doc__ or ""
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a recording, CSV or WAV")
        parser.add_argument("--rate-hz", type=float, help="for files that do not say")
        parser.add_argument("--json", action="store_true", help="print the result as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            found = inspection(read(path, rate_hz=options["rate_hz"]), file=path.name)
        except ReadError as error:
            found = unreadable(path.name, str(error))
        if options["json"]:
            self.stdout.write(json.dumps(found, ensure_ascii=False))
        elif not found["error"]:
            self.stdout.write(text_of(found))
        if found["error"]:
            self.stderr.write(f"{path.name}: {found['error']}")
            sys.exit(_UNUSABLE)
