"""Whether a job says that the engine loses coolant, or shows what a leaking gasket shows."""

import re
from collections.abc import Collection

_COOLANT = r"(?:cool[ae]nt|anti[ -]?freeze|(?:radiator|cooling) (?:water|fluid))"
_TANK = r"(?:radiator|(?:expansion|header|overflow|cool[ae]nt) (?:tank|bottle|reservoir))"
_WATER = r"water(?! pump)"
_LIQUID = rf"(?:{_COOLANT}|{_TANK}|{_WATER})"
_GONE = (
    r"(?:loo?s\w*|loss|leak\w*|us(?:es|ed|ing)|drink\w*|drank|consum\w*|lack\w*|low|below|missing"
    r"|short of|down|drop\w*|empt\w*|disappear\w*|gone|needs|needed"
    r"|top(?:s|ped|ping)?(?:[ -]it)?[ -]up|re-?fill\w*|add(?:s|ed|ing)?)"
)
_BETWEEN = r"(?:[\s-]+[\w']+){0,3}?[\s-]+"
_SIGNS = (
    r"(?:over[ -]?heat\w*|r(?:uns|unning|an) (?:\w+ )?hot|too hot|boil\w* over"
    rf"|temp(?:erature)? (?:gauge|needle|light){_BETWEEN}(?:red|high|max\w*|climb\w*|ris\w+|on)"
    r"|temp(?:erature)? (?:go(?:es|ing)|went|creeps|shoots) up"
    rf"|cool[ae]nt (?:level |temp\w* )?(?:warning )?(?:light|lamp){_BETWEEN}(?:on|comes|came|lit)"
    r"|sweet\w*|steam\w*|milky|mayonnaise|bubbl\w*|head[ -]gasket|hydro-?(?:static )?lock\w*)"
)
"""What a leaking gasket shows beside a level that falls (common practice)."""
_FILLED = (
    rf"(?:top(?:s|ped|ping)?{_BETWEEN}{_LIQUID}{_BETWEEN}up"
    rf"|(?:put|puts|putting|pour\w*){_BETWEEN}(?:{_COOLANT}|{_WATER})"
    rf"|fill(?:s|ed|ing)?{_BETWEEN}(?:{_COOLANT}|{_TANK}))"
)
_RUN_OUT = r"(?:dry|drip\w*|puddle)"
"""Words that mean nothing beside water, which an air conditioner and an exhaust let go."""
_LOSS = re.compile(
    rf"\b(?:{_GONE}{_BETWEEN}{_LIQUID}|{_LIQUID}{_BETWEEN}{_GONE}|{_FILLED}|{_SIGNS}"
    rf"|{_RUN_OUT}{_BETWEEN}(?:{_COOLANT}|{_TANK})|(?:{_COOLANT}|{_TANK}){_BETWEEN}{_RUN_OUT})\b",
    re.IGNORECASE,
)
_OTHER_WATER = re.compile(
    r"\b(?:foot ?wells?|boot|trunk|carpets?|cabin|wind(?:screen|shield)|washers?|sun ?roof|doors?"
    r"|headlights?)\b",
    re.IGNORECASE,
)
"""Where water is that never was in the engine."""
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
        not _is_denied(part[: found.start()], found[0]) and not _is_elsewhere(part, found[0])
        for part in parts
        for found in _LOSS.finditer(part)
    )


def _is_elsewhere(part: str, loss: str) -> bool:
    return bool("water" in loss.lower() and _OTHER_WATER.search(part))


def _is_denied(before: str, loss: str) -> bool:
    words = _WORD.findall(before)[-_REACH_WORDS:]
    if "and" in words:
        words = words[words.index("and") + 1 :]
    return bool(_DENIAL.search(" ".join(words)) or _DENIAL.search(loss))
