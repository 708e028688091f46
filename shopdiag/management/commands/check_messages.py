"""Collect every text that can be translated; fail where one cannot be, or is not."""

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

from shopdiag.catalogues import DOMAINS, Entry, doubts, entries

NOT_OURS = ("locale", ".venv", "var", "tests", "bench", "mutation", "staticfiles", "vendor")


class Command(BaseCommand):
    help = "Collect all texts, changing nothing; fails on a warning and on what a language lacks."

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
            said = {d: _keys(Path(folder), settings.LANGUAGE_CODE, d) for d in DOMAINS}
        told = complaints.getvalue().replace(f"processing locale {settings.LANGUAGE_CODE}\n", "")
        # Another language may have to say them in another order.
        told += "".join(f"Name the placeholders:\n{one}\n" for one in texts if one.count("%s") > 1)
        if told.strip():
            raise CommandError(told)
        for language, name in settings.LANGUAGES:
            if language != settings.LANGUAGE_CODE:
                self._compare(said, language, name)
        self.stdout.write(f"{len(texts)} texts can be translated, and are.")

    def _compare(self, said: dict[str, dict[str, Entry]], language: str, name: str) -> None:
        """Refuse a catalogue that lacks a text, holds one that nobody says, or says it amiss."""
        told = []
        for domain, texts in said.items():
            held = _keys(settings.CATALOGUES, language, domain)
            told += [f"lacks: {held.get(k, e).text}" for k, e in texts.items() if _lacks(held, k)]
            told += [f"nobody says any more: {held[key].text}" for key in set(held) - set(texts)]
            told += [f"{w}: {e.text}" for e in held.values() for w in doubts(e)]
        if told:
            hint = f"Run `make texts`, then write what is missing into {settings.CATALOGUES}."
            raise CommandError("\n".join([f"{name} ({language})", *sorted(told), hint]))


def _keys(folder: Path, language: str, domain: str) -> dict[str, Entry]:
    path = folder / language / "LC_MESSAGES" / f"{domain}.po"
    found = entries(path) if path.exists() else []
    return {entry.key: entry for entry in found if entry.text}


def _lacks(held: dict[str, Entry], key: str) -> bool:
    return key not in held or not held[key].is_translated


def _texts(catalogue: Path) -> list[str]:
    """Return the entries of a catalogue without its head."""
    return re.split(r'"\n+(?=#)', catalogue.read_text(encoding="utf-8"))[1:]
