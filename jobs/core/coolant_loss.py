"""Whether a job says that the engine loses coolant."""

import re
from collections.abc import Collection

_LIQUID = r"(?:coolant|anti-?freeze|radiator water|cooling water|water)"
_GONE = (
    r"(?:los\w*|loss|leak\w*|us(?:es|ing)|drink\w*|consum\w*|lack\w*|low|below|missing|short of"
    r"|down|empty|disappear\w*|top(?:s|ped|ping)?(?: it)? up|refill\w*|add(?:s|ed|ing)?)"
)
_BETWEEN = r"(?:[\s,-]+[\w']+){0,3}?[\s,-]+"
_LOSS = re.compile(rf"\b(?:{_GONE}{_BETWEEN}{_LIQUID}|{_LIQUID}{_BETWEEN}{_GONE})\b", re.IGNORECASE)
_DENIAL = re.compile(r"\b(?:no|not|never|without|nor|\w+n[\'\u2019]t)\b", re.IGNORECASE)
_PART = re.compile(r"[.,;:!?\n]")
_WORD = re.compile(r"[\w\'\u2019]+")
_REACH_WORDS = 3
"""How many words before the loss a denial of it may stand, as in "never had to add coolant"."""


def loses_coolant(texts: Collection[str], warning_lights: Collection[str] = ()) -> bool:
    """Return whether people or the coolant's warning light say that coolant is lost.

    Parameters
    ----------
    texts
        What the customer said and what was noted, in English.
    warning_lights
        Keys of `jobs.core.complaint.WARNING_LIGHTS`; that of the coolant counts.

    Notes
    -----
    A wrong answer costs one cheap test, asked for or left out.
    """
    if "coolant" in warning_lights:
        return True
    parts = (part for text in texts for part in _PART.split(text))
    return any(
        not _is_denied(part[: found.start()], found[0])
        for part in parts
        for found in _LOSS.finditer(part)
    )


def _is_denied(before: str, loss: str) -> bool:
    words = _WORD.findall(before)[-_REACH_WORDS:]
    if "and" in words:
        words = words[words.index("and") + 1 :]
    return bool(_DENIAL.search(" ".join(words)) or _DENIAL.search(loss))
