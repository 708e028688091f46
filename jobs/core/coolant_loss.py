"""Whether a job says that the engine loses coolant, or shows what a leaking gasket shows."""

import re
from collections.abc import Collection

_LIQUID = (
    r"(?:cool[ae]nt|anti[ -]?freeze|(?:radiator|cooling) (?:water|fluid)|water|radiator"
    r"|(?:expansion|header|overflow) (?:tank|bottle))"
)
_GONE = (
    r"(?:loo?s\w*|loss|leak\w*|us(?:es|ed|ing)|drink\w*|drank|consum\w*|lack\w*|low|below|missing"
    r"|short of|down|drop\w*|empt\w*|disappear\w*|gone|needs|needed"
    r"|top(?:s|ped|ping)?(?:[ -]it)?[ -]up|re-?fill\w*|add(?:s|ed|ing)?)"
)
_BETWEEN = r"(?:[\s-]+[\w']+){0,3}?[\s-]+"
_SIGNS = (
    r"(?:over[ -]?heat\w*|r(?:uns|unning|an) (?:\w+ )?hot|too hot|boil\w* over"
    rf"|temp(?:erature)? (?:gauge|needle|light){_BETWEEN}(?:red|high|max\w*|climb\w*|ris\w+|on)"
    r"|sweet\w*|steam\w*|milky|mayonnaise|bubbl\w*|head[ -]gasket|hydro-?(?:static )?lock\w*)"
)
"""What a leaking gasket shows beside a level that falls (common practice)."""
_LOSS = re.compile(
    rf"\b(?:{_GONE}{_BETWEEN}{_LIQUID}|{_LIQUID}{_BETWEEN}{_GONE}|{_SIGNS})\b", re.IGNORECASE
)
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
