"""Names that are spelled nearly like what was typed."""

from collections.abc import Mapping
from difflib import SequenceMatcher, get_close_matches
from unicodedata import combining, normalize

MIN_LETTERS = 4
"""Shorter words are alike too often; they have to begin a name."""
CUTOFF = 0.8
"""Share of letters in common, in order: two letters of ten may be others."""
SHORT_CUTOFF = 0.75
"""The same for up to five letters: one of four may be another."""
_SHORT = 5
MAX_ALIKE = 20
_MAX_WORDS = 4
_MAX_NEAR = 200


def letters_of(text: str) -> str:
    """Return a text in lower case without accents."""
    apart = normalize("NFKD", text.casefold())
    return "".join(c for c in apart if not combining(c))


def names_alike(typed: str, names: Mapping[int, str]) -> list[int]:
    """Return the keys of names in which each typed word has one like it, the closest first.

    Of names equally close those that come first in `names` come first. What holds digits is no
    name, and without a word of `MIN_LETTERS` letters nothing is compared.
    """
    wanted = _words_of(typed)
    if any(c.isdigit() for c in typed) or not 1 <= len(wanted) <= _MAX_WORDS:
        return []
    if max(len(word) for word in wanted) < MIN_LETTERS:
        return []
    words = {key: _words_of(name) for key, name in names.items()}
    known = sorted({word for each in words.values() for word in each})
    near = [_near(word, known) for word in wanted]
    scores = {}
    for key, each in words.items():
        best = [max((shares[w] for w in each if w in shares), default=0.0) for shares in near]
        if all(best):
            scores[key] = sum(best)
    return sorted(scores, key=lambda key: -scores[key])[:MAX_ALIKE]


def _words_of(text: str) -> list[str]:
    apart = "".join(c if c.isalnum() else " " for c in letters_of(text).replace("'", ""))
    return apart.split()


def _near(word: str, known: list[str]) -> dict[str, float]:
    """Return which known words are like one, and how much."""
    if len(word) < MIN_LETTERS:
        return {other: 1.0 for other in known if other.startswith(word)}
    cutoff = SHORT_CUTOFF if len(word) <= _SHORT else CUTOFF
    close = get_close_matches(word, known, n=_MAX_NEAR, cutoff=cutoff)
    begun = [other for other in known if other.startswith(word)]
    return {other: SequenceMatcher(None, other, word).ratio() for other in close} | dict.fromkeys(
        begun, 1.0
    )
