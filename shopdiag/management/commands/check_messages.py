"""Collect every text that can be translated, and fail where one cannot be collected."""

import re
import shutil
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.test.utils import override_settings

from shopdiag.catalogues import DOMAINS

NOT_OURS = ("locale", ".venv", "var", "tests", "bench", "mutation", "staticfiles", "vendor")


class Command(BaseCommand):
    help = "Run makemessages into a folder of its own; fails on any warning, changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        if shutil.which("xgettext") is None:
            message = "GNU gettext is missing; install the package `gettext` of your system."
            raise CommandError(message)
        complaints = StringIO()
        with TemporaryDirectory() as folder, override_settings(LOCALE_PATHS=[folder]):
            for domain, extensions in DOMAINS.items():
                call_command(
                    "makemessages",
                    locale=[settings.LANGUAGE_CODE],
                    domain=domain,
                    extensions=extensions,
                    ignore_patterns=list(NOT_OURS),
                    stdout=complaints,
                    stderr=complaints,
                )
            texts = [text for file in Path(folder).rglob("*.po") for text in _texts(file)]
        told = complaints.getvalue().replace(f"processing locale {settings.LANGUAGE_CODE}\n", "")
        # Another language may have to say them in another order.
        told += "".join(f"Name the placeholders:\n{one}\n" for one in texts if one.count("%s") > 1)
        if told.strip():
            raise CommandError(told)
        self.stdout.write(f"{len(texts)} texts can be translated.")


def _texts(catalogue: Path) -> list[str]:
    """Return the entries of a catalogue without its head."""
    return re.split(r'"\n+(?=#)', catalogue.read_text(encoding="utf-8"))[1:]
