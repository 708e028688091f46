"""Django's `makemessages`, which also finds the texts of the pure packages.

Those stand in content files (`texts/*.toml`) and in calls of `say` and `say_count`.
"""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.commands import makemessages

from engines.core.content import texts_of


class ContentBuildFile(makemessages.BuildFile):
    """A content file is given to xgettext as Python: each text as a call on its own line."""

    def preprocess(self) -> None:
        path = Path(self.path)
        if path.suffix != ".toml":
            super().preprocess()
            return
        lines = [""] * (len(path.read_text(encoding="utf-8").splitlines()) + 1)
        if path.parent.name == "texts":
            for found in texts_of(path):
                # a comment belongs to the call on the next line
                lines[found.line - 2] += f"  # Translators: {path.stem}: {found.entry}, {found.key}"
                lines[found.line - 1] = f"say({found.text!r})"
        Path(self.work_path).write_text("\n".join(lines), encoding="utf-8")


class Command(makemessages.Command):
    build_file_class = ContentBuildFile
    xgettext_options = [
        *makemessages.Command.xgettext_options,
        "--keyword=say",
        "--keyword=say_count:1,2",
        # figures stand in {braces}, so that "80 % is" is no directive
        "--flag=say:1:no-python-format",
        "--flag=say_count:1:no-python-format",
        "--flag=say_count:2:no-python-format",
    ]

    def handle(self, *args: Any, **options: Any) -> str | None:
        if options["domain"] == "django":
            options["extensions"] = options["extensions"] or ["html", "txt", "py", "toml"]
        return super().handle(*args, **options)

    def find_files(self, root: str) -> list[makemessages.TranslatableFile]:
        # Only where the settings say, whatever folder named `locale` stands in the way.
        self.locale_paths = [str(path) for path in settings.LOCALE_PATHS]
        return super().find_files(root)
