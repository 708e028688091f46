"""What a page or a sentence says, by the name of a text instead of its words.

A test names a text and what fills it: `says(page, "pooling_words.captures-agree", count=2)`. The
wording of a name stands in one place: `texts.toml` here for texts of code and templates, and the
product's own content files for theirs (`patterns:high.reading` is `reading` of `[high]` in
`patterns.toml`). Whoever changes a wording changes it there, by `python -m tests.wording`; no test
is touched.
"""

import html
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.core.exceptions import ValidationError

from shopdiag.catalogues import DOMAINS, entries
from tests.page_text import as_read

PROJECT = Path(__file__).parents[2]
TEXTS = Path(__file__).with_name("texts.toml")

_GAP = re.compile(r"%%|%\((\w+)\)[-#0 +]*\d*(?:\.\d+)?[a-z]|\{(\w*)[^{}]*\}")
_BLANKS = re.compile(r"\s+")
_ANYTHING = r"[\s\S]{0,400}?"


@cache
def texts() -> dict[str, list[str]]:
    """Return the name of each text to its English, the plural second where there is one."""
    tables = tomllib.loads(TEXTS.read_text(encoding="utf-8"))
    return {
        f"{group}.{name}": [words] if isinstance(words, str) else words
        for group, table in tables.items()
        for name, words in table.items()
    }


@cache
def content_texts() -> dict[str, str]:
    """Return the name of each text of a content file to its English."""
    found: dict[str, str] = {}
    for file in sorted(PROJECT.glob("*/**/core/**/texts/*.toml")):
        name = f"{file.relative_to(PROJECT).parts[0]}/{file.stem}"
        for entry, table in tomllib.loads(file.read_text(encoding="utf-8")).items():
            for key, words in table.items():
                if isinstance(words, str):
                    found[f"{name}:{entry}.{key}"] = " ".join(words.split())
    return found


@cache
def said_now() -> dict[str, list[str]]:
    """Return every text of the product, its forms joined, to its forms."""
    found = {}
    for domain in DOMAINS:
        file = PROJECT / "locale" / "es" / "LC_MESSAGES" / f"{domain}.po"
        for entry in entries(file):
            forms = [entry.text, entry.plural] if entry.plural else [entry.text]
            found["\0".join(forms)] = forms
    return found


def wordings(name: str) -> list[str]:
    """Return the wordings of a text; one, or two where it has a plural."""
    return [content_texts()[name]] if ":" in name else texts()[name]


@dataclass(frozen=True)
class Named:
    """A text by its name with what fills it, for a test's parameters."""

    name: str
    figures: Mapping[str, object]


def named(name: str, /, **figures: object) -> Named:
    """Return a text for a test's parameters; `says` takes it in place of a name."""
    return Named(name, figures)


def says(where: object, name: str | Named, /, **figures: object) -> bool:
    """Return whether something a person reads holds a text.

    Parameters
    ----------
    where
        A page, a sentence, a `Text`, an error, or several of them, one of which has to hold it.
    name
        Name of the text.
    figures
        What fills it; figures that are left out may be anything.
    """
    patterns = _patterns(name, figures)
    return any(p.search(read) for read in _as_read(where) for p in patterns)


def says_only(where: object, name: str | Named, /, **figures: object) -> bool:
    """Return whether a sentence, or one of several, is a text and nothing more."""
    patterns = _patterns(name, figures, whole=True)
    return any(p.fullmatch(read) for read in _as_read(where) for p in patterns)


def wording(name: str, /, **figures: object) -> str:
    """Return a text filled in, for a place that takes words: a locator, a key, a whole line."""
    words = wordings(name)
    several = words[1:] and figures.get("count", 1) != 1
    filled = {key: str(value) for key, value in figures.items()}
    return _GAP.sub(lambda gap: _filling(gap, filled), words[1 if several else 0])


def _filling(gap: re.Match[str], figures: Mapping[str, str]) -> str:
    return "%" if gap[0] == "%%" else figures[gap[1] or gap[2]]


def _patterns(
    name: str | Named, figures: Mapping[str, object], *, whole: bool = False
) -> list[re.Pattern[str]]:
    if isinstance(name, Named):
        figures, name = name.figures, name.name
    # a singular may say a number in words
    found = [
        re.compile(_pattern(words, figures, whole=whole))
        for words in wordings(name)
        if set(figures) <= {gap[1] or gap[2] for gap in _GAP.finditer(words)}
    ]
    if not found:
        raise LookupError(f"{name} is not filled by {', '.join(sorted(figures))}")
    return found


def _pattern(words: str, figures: Mapping[str, object], *, whole: bool = False) -> str:
    words = " ".join(words.split())
    made, at, seen = "", 0, set[str]()
    for gap in _GAP.finditer(words):
        made += _literal(words, at, gap.start())
        at = gap.end()
        name = gap[1] or gap[2]
        is_edge = gap.start() == 0 or gap.end() == len(words)
        if gap[0] == "%%":
            made += "%"
        elif name in figures:
            made += re.escape(_BLANKS.sub(" ", str(figures[name])))
        elif name in seen:
            made += f"(?P={name})"
        elif name and (whole or not is_edge):
            made += f"(?P<{name}>{_ANYTHING})"
            seen.add(name)
        elif not is_edge:
            made += _ANYTHING
    return made + _literal(words, at, len(words))


def _literal(words: str, start: int, end: int) -> str:
    """Return a pattern for a piece; a text may begin with a capital where it begins a sentence."""
    piece = words[start:end]
    if start == 0 and piece[:1].isalpha():
        return f"[{piece[0].lower()}{piece[0].upper()}]{re.escape(piece[1:])}"
    return re.escape(piece)


def _as_read(where: object) -> Iterator[str]:
    if isinstance(where, ValidationError):
        where = where.messages
    elif isinstance(where, Mapping):
        where = list(where.values())
    if isinstance(where, Iterable) and not isinstance(where, str):
        for part in where:
            yield from _as_read(part)
        return
    read = " ".join(as_read(str(where)).split())
    yield read
    plain = html.unescape(read)
    if plain != read:
        yield plain
