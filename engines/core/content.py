"""Content files: static texts that a person can read and correct without reading Python.

A file is TOML, one table an entry. Line breaks inside a text count as blanks, so that long
sentences may be wrapped. What a file holds is checked when it is loaded. Texts stay English here:
they are translated where they are used, by `translated` or as the message of a `Text`.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from shopdiag.people.core.words import gettext

T = TypeVar("T")

CODES = frozenset({"severity", "code", "key", "group", "bank", "unit"})
"""What stands in a content file for programs; all else is for people."""

_HEAD = re.compile(r"\[(?P<entry>[^\]]+)\]\s*$")
_KEY = re.compile(r"(?P<key>[a-z_]+)\s*=\s*\"")


class ContentError(ValueError):
    """A content file does not say what it has to."""


def content(path: Path, kind: type[T]) -> Mapping[str, T]:
    """Return the entries of a content file.

    Parameters
    ----------
    path
        A TOML file of tables.
    kind
        A dataclass whose fields are texts; those with a default may be left out.

    Returns
    -------
    Mapping
        Name of the entry to its texts, in the order of the file.

    Raises
    ------
    ContentError
        If a text is missing, empty or unknown, in words that name file, entry and text.
    """
    return MappingProxyType(
        {name: _entry(path, name, table, kind) for name, table in _tables(path).items()}
    )


def _tables(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ContentError(f"{path.name} cannot be read: {error}") from error


def _entry(path: Path, name: str, table: object, kind: type[T]) -> T:
    if not isinstance(table, dict):
        raise ContentError(f"{path.name}: [{name}] is no table of texts.")
    known = {f.name: f for f in fields(kind)}  # type: ignore[arg-type]
    unknown = sorted(set(table) - set(known))
    if unknown:
        raise ContentError(f"{path.name}: [{name}] holds “{unknown[0]}”, which nothing reads.")
    for key, field in known.items():
        if key not in table and field.default is MISSING:
            raise ContentError(f"{path.name}: [{name}] lacks “{key}”.")
    return kind(**{key: _text(path, name, key, value) for key, value in table.items()})


def _text(path: Path, name: str, key: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ContentError(f"{path.name}: “{key}” of [{name}] is no text.")
    return " ".join(value.split())


def nested(path: Path, kind: type[T]) -> Mapping[tuple[str, str], T]:
    """Return the entries of a content file whose tables hold tables, by both their names."""
    found: dict[tuple[str, str], T] = {}
    for name, table in _tables(path).items():
        if not isinstance(table, dict):
            raise ContentError(f"{path.name}: [{name}] is no table of tables.")
        for below, texts in table.items():
            found[name, below] = _entry(path, f"{name}.{below}", texts, kind)
    return MappingProxyType(found)


def translated(entry: T) -> T:
    """Return an entry with its texts in the reader's language."""
    texts = {
        field.name: gettext(getattr(entry, field.name))
        for field in fields(entry)  # type: ignore[arg-type]
        if field.name not in CODES and getattr(entry, field.name)
    }
    return replace(entry, **texts)  # type: ignore[type-var]


@dataclass(frozen=True, slots=True)
class ContentText:
    """One text of a content file as translators need it: where it stands, and the text."""

    entry: str
    key: str
    line: int
    text: str


def texts_of(path: Path) -> Iterator[ContentText]:
    """Yield the texts of a content file that people read, in its order."""
    tables, entry = _tables(path), ""
    for line, words in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if head := _HEAD.match(words):
            entry = head["entry"]
        elif (key := _KEY.match(words)) and key["key"] not in CODES:
            table: Any = tables
            for name in entry.split("."):
                table = table[name]
            yield ContentText(entry, key["key"], line, " ".join(table[key["key"]].split()))
