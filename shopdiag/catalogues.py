"""Catalogues of translations: read, checked and compiled without GNU gettext.

`locale/LANGUAGE/LC_MESSAGES/*.po` is what translators write and what is kept. What the service
reads is compiled from it at its start into a folder named by the digest of all of them, so that
no translation is ever older than its source.
"""

import ast
import hashlib
import re
import struct
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

DOMAINS = {"django": ["html", "py", "svg", "toml"], "djangojs": ["js"]}
"""Name of a catalogue to the kinds of file its texts come from."""

_CONTEXT = "\x04"
_PLURAL = "\x00"
_LINE = re.compile(r'(msgctxt|msgid|msgid_plural|msgstr(?:\[\d\])?)? ?(".*")\s*$')
_PERCENT = re.compile(r"%%|%[sd](?![a-z])|%\(\w+\)[-#0 +]*\d*(?:\.\d+)?[a-z]")
_BRACES = re.compile(r"\{(\w*)[^{}]*\}")
_TAG = re.compile(r"</?[a-z][^<>]*>")


class CatalogueError(ValueError):
    """A catalogue cannot be read."""


@dataclass
class Entry:
    """One text of a catalogue with its translations, one for each plural form."""

    comments: list[str] = field(default_factory=list)
    flags: set[str] = field(default_factory=set)
    context: str | None = None
    text: str = ""
    plural: str = ""
    translations: list[str] = field(default_factory=list)

    @property
    def key(self) -> str:
        """The name under which `gettext` looks it up, the context included."""
        text = self.text + (_PLURAL + self.plural if self.plural else "")
        return text if self.context is None else self.context + _CONTEXT + text

    @property
    def is_translated(self) -> bool:
        """Whether every form is there, and nobody has to look at it again."""
        return "fuzzy" not in self.flags and all(self.translations)


def entries(path: Path) -> list[Entry]:
    """Return the entries of a catalogue, its head (the text "") first.

    Parameters
    ----------
    path
        A PO file in UTF-8, entries apart by an empty line or comments as GNU gettext writes it.

    Raises
    ------
    CatalogueError
        If it is none, in words that name the place.
    """
    blocks = re.split(r"\n\s*\n|(?<=\")\n(?=#)", path.read_text(encoding="utf-8").strip())
    return [_entry(path, block) for block in blocks if not block.startswith("#~")]


def _entry(path: Path, block: str) -> Entry:
    lines = block.splitlines()
    comments = [line for line in lines if line.startswith("#")]
    parts: dict[str, str] = {}
    part = ""
    for line in lines[len(comments) :]:
        found = _LINE.match(line)
        part = found[1] or part if found else ""
        if found is None or not part or (found[1] in parts):
            raise CatalogueError(f"{path.name} cannot be read here:\n{block}")
        parts[part] = parts.get(part, "") + ast.literal_eval(found[2])
    flags = {f.strip() for c in comments if c.startswith("#,") for f in c[2:].split(",")}
    return Entry(
        comments=[c for c in comments if not c.startswith("#,")],
        flags=flags,
        context=parts.get("msgctxt"),
        text=parts.get("msgid", ""),
        plural=parts.get("msgid_plural", ""),
        translations=[words for name, words in parts.items() if name.startswith("msgstr")],
    )


def doubts(entry: Entry) -> list[str]:
    """Return what is wrong with a translation, in words; nothing where it is missing."""
    if not entry.text or not entry.is_translated:
        return []
    found = set()
    for number, translation in enumerate(entry.translations):
        source = entry.plural if number and entry.plural else entry.text
        # The singular may say “one” and leave the figure out, or name it.
        wanted = [source] if number else [source, entry.plural or source]
        if placeholders(translation) not in [placeholders(text) for text in wanted]:
            found.add("other placeholders than the English")
        if sorted(_TAG.findall(translation)) != sorted(_TAG.findall(source)):
            found.add("other markup than the English")
        single = ["%" in _PERCENT.sub("", text) for text in (source, translation)]
        if single == [False, True] and ("%(" in source or "%%" in source):
            found.add("a single % where %% is meant")
        elif "%%" in translation and "%%" not in source:
            found.add("%% where a single % is meant")
        if _ends(translation) != _ends(source):
            found.add("other blanks at its ends than the English")
    return sorted(found)


def placeholders(text: str) -> set[str]:
    """Return what is filled in: `%(name)s`, `%s` and {name}."""
    named = {m[0] for m in _PERCENT.finditer(text) if m[0] != "%%"}
    return named | {f"{{{m[1]}}}" for m in _BRACES.finditer(text)}


def _ends(text: str) -> tuple[str, str]:
    return text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]


def compiled(catalogue: list[Entry]) -> bytes:
    """Return a catalogue as `gettext` reads it (GNU's MO file), without what is not translated."""
    texts = {
        e.key.encode(): _PLURAL.join(e.translations).encode() for e in catalogue if e.is_translated
    }
    keys = sorted(texts)
    start = 7 * 4
    offset = start + 16 * len(keys)
    tables: list[tuple[int, int]] = []
    body = bytearray()
    for words in (*keys, *(texts[key] for key in keys)):
        tables.append((len(words), offset + len(body)))
        body += words + b"\0"
    head = struct.pack("<7I", 0x950412DE, 0, len(keys), start, start + 8 * len(keys), 0, offset)
    return head + b"".join(struct.pack("<2I", *row) for row in tables) + bytes(body)


def compiled_folder(source: Path, target: Path) -> Path:
    """Compile all catalogues of a folder where that was not done yet.

    Parameters
    ----------
    source
        The folder with `LANGUAGE/LC_MESSAGES/DOMAIN.po`.
    target
        A folder that may be written to.

    Returns
    -------
    Path
        The folder in it that holds the compiled catalogues of exactly these sources.
    """
    files = sorted(source.glob("*/LC_MESSAGES/*.po"))
    digest = hashlib.sha256()
    for path in files:
        digest.update(str(path.relative_to(source)).encode() + b"\0" + path.read_bytes() + b"\0")
    folder = target / digest.hexdigest()[:16]
    if folder.is_dir():
        return folder
    target.mkdir(parents=True, exist_ok=True)
    # Several processes start at once: each makes a whole one, the first is kept.
    with tempfile.TemporaryDirectory(dir=target, prefix=".making-") as made:
        for path in files:
            place = Path(made, "locale", path.relative_to(source).with_suffix(".mo"))
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(compiled(entries(path)))
        Path(made, "locale").mkdir(exist_ok=True)
        try:
            Path(made, "locale").rename(folder)
        except OSError:
            if not folder.is_dir():
                raise
    return folder
