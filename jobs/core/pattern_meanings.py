"""What each pattern usually means, what would rule it out, and where that comes from."""

from dataclasses import dataclass
from pathlib import Path

from engines.core.content import content, translated
from jobs.core.patterns import Pattern


@dataclass(frozen=True, slots=True)
class PatternMeaning:
    """The usual reading of a pattern, in words.

    Parameters
    ----------
    name
        The pattern.
    reading
        What it usually is.
    disproof
        What would show that it is something else.
    source
        Where the reading comes from.
    """

    name: str
    reading: str
    disproof: str
    source: str


_TEXTS = content(Path(__file__).parent / "texts" / "patterns.toml", PatternMeaning)
MEANINGS = {Pattern(name): meaning for name, meaning in _TEXTS.items()}


def meaning_of(pattern: Pattern) -> PatternMeaning:
    """Return what a pattern usually means, in the reader's language."""
    return translated(MEANINGS[pattern])
