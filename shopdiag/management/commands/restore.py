"""Take a backup back into a new, empty installation."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopdiag.backups import BackupError, backup_read


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="what `backup` wrote; “-” for standard input")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["file"] == "-":
                told = backup_read(sys.stdin.buffer)
            else:
                with Path(options["file"]).open("rb") as source:
                    told = backup_read(source)
        except BackupError as error:
            raise CommandError(str(error)) from error
        except FileNotFoundError:
            raise CommandError(f"There is no file {options['file']}; check its name.") from None
        self.stdout.write(f"{told.rows} rows and {told.files} files are back.")
        for name in told.lost:
            self.stderr.write(f"Not in the backup: {name}", self.style.WARNING)
