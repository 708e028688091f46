"""A language made on the fly: every text that asks for its translation comes back accented.

What is still in plain letters on a page is somebody's data, or a text that nobody can translate.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from gettext import NullTranslations
from html.parser import HTMLParser

from django.utils.translation import override, trans_real

LANGUAGE = "en-xa"
_CONTEXT = "\x04"
_PLAIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
_ACCENTED = "ÀƁÇĐÉƑĜĤÎĴĶĻṀÑÖÞǪŔŠŢÛṼŴẊÝŽàƀçđéƒĝĥîĵķļɱñöþɋŕšţûṽŵẋýž"
_LETTERS = str.maketrans(_PLAIN, _ACCENTED)
# Placeholders, markup and entities go through as they are.
_KEPT = re.compile(r"(%%|%\(\w+\)[-#0 +]*\d*(?:\.\d+)?[a-z]|%[sd]|\{\w*[^{}]*\}|<[^>]*>|&#?\w+;)")
_WORD = re.compile(r"[A-Za-z]{2,}")
_READ_ALOUD = {"alt", "aria-label", "aria-description", "data-label", "placeholder", "title"}
_UNSEEN = {"script", "style"}


def accented(text: str) -> str:
    """Return a text with an accent on each letter, placeholders and markup kept."""
    pieces = _KEPT.split(text)
    return "".join(p if n % 2 else p.translate(_LETTERS) for n, p in enumerate(pieces))


class _Accents(NullTranslations):
    """A catalogue that has every text."""

    def to_language(self) -> str:
        return LANGUAGE

    def gettext(self, message: str) -> str:
        return accented(message.rpartition(_CONTEXT)[2])

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return self.gettext(singular if number == 1 else plural)


@contextmanager
def accents() -> Iterator[None]:
    """Show everything in the made-up language."""
    known = trans_real._translations  # type: ignore[attr-defined]
    known[LANGUAGE] = _Accents()
    try:
        with override(LANGUAGE):
            yield
    finally:
        del known[LANGUAGE]


class _Reader(HTMLParser):
    """The texts of a page: what is seen, and what is read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._unseen = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unseen = tag if tag in _UNSEEN else self._unseen
        given = dict(attrs)
        named = set(_READ_ALOUD)
        if tag == "input" and given.get("type") in {"submit", "button"}:
            named.add("value")
        self.texts += [given[name] or "" for name in sorted(named & set(given))]

    def handle_endtag(self, tag: str) -> None:
        if tag == self._unseen:
            self._unseen = ""

    def handle_data(self, data: str) -> None:
        if not self._unseen:
            self.texts.append(data)


def texts_of(page: str) -> list[str]:
    """Return the texts of a page, attributes that are read included."""
    reader = _Reader()
    reader.feed(page)
    return [" ".join(text.split()) for text in reader.texts if text.strip()]


def plain_words(text: str, data: re.Pattern[str]) -> list[str]:
    """Return the words of a text that are neither accented nor somebody's data."""
    return _WORD.findall(data.sub(" ", text))


def pattern_of(data: set[str]) -> re.Pattern[str]:
    """Return what finds pieces of data as whole words, the longest first."""
    pieces = sorted((re.escape(piece) for piece in data if piece), key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(pieces)})(?!\w)")
