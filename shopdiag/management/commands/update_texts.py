"""Bring the catalogues of all languages up to the texts of the code."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.test.utils import override_settings

from shopdiag.catalogues import DOMAINS
from shopdiag.management.commands.check_messages import NOT_OURS

HEAD = """\
msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=UTF-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"
"""


class Command(BaseCommand):
    help = "Collect all texts into locale/; keeps what is translated, drops what nobody says."

    def handle(self, *args: Any, **options: Any) -> None:
        languages = [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
        with override_settings(LOCALE_PATHS=[settings.CATALOGUES]):
            for domain, extensions in DOMAINS.items():
                files = [
                    settings.CATALOGUES / one / "LC_MESSAGES" / f"{domain}.po" for one in languages
                ]
                for language, file in zip(languages, files, strict=True):
                    if not file.exists():
                        file.parent.mkdir(parents=True, exist_ok=True)
                        file.write_text(HEAD.format(language=language), encoding="utf-8")
                call_command(
                    "makemessages",
                    locale=languages,
                    domain=domain,
                    extensions=extensions,
                    ignore_patterns=list(NOT_OURS),
                    add_location="file",
                    no_wrap=True,
                    no_obsolete=True,
                    verbosity=0,
                )
                for file in files:
                    _without_date(file)


def _without_date(file: Path) -> None:
    """Leave out when it was made, which says nothing and changes every time."""
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith('"POT-Creation-Date')]
    file.write_text("".join(kept), encoding="utf-8")
