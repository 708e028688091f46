"""Write the whole installation, rows and uploads, into one file."""

import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopdiag.backups import Told, backup_write


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="where to; “-” for standard output")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["file"] == "-":
            self._tell(backup_write(sys.stdout.buffer))
            return
        path = Path(options["file"])
        draft = path.with_name(f".{path.name}.{os.getpid()}")
        if path.exists():
            raise CommandError(f"{path} exists already; name another file.")
        try:
            # It holds customers and password digests: for its owner's eyes only.
            descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "wb") as out:
                told = backup_write(out)
                out.flush()
                os.fsync(out.fileno())
            draft.rename(path)
        except OSError as error:
            raise CommandError(f"Cannot write {path}: {error.strerror}.") from error
        finally:
            draft.unlink(missing_ok=True)
        self._tell(told)

    def _tell(self, told: Told) -> None:
        # Not on standard output, which may be the backup itself.
        self.stderr.write(f"{told.rows} rows and {told.files} files written.", self.style.SUCCESS)
        for name in told.lost:
            self.stderr.write(f"Not there any more: {name}", self.style.WARNING)
