"""What is typed into one box, seen as plate, VIN, phone number, code or words."""

import re
from dataclasses import dataclass
from enum import IntEnum
from itertools import groupby, permutations

from jobs.core.codes import code_exact
from jobs.core.vin import vin_clean

MIN_DIGITS = 3
MIN_KEY = 2
MAX_WORDS = 8
MAX_NUMBER = 2_000_000_000
"""The highest job number looked for; what the database's column holds."""

_MAX_PLATE_GROUPS = 4
_MAX_PLATE_LETTERS = 10
# In every language on offer, whatever the reader's: a program says none, people say both.
_JOB_WORDS = ("job", "trabajo")
_NUMBER_WORDS = ("number", "número", "numero", r"n[oº°]\.?", r"n\.[oº°]", r"n[úu]m\.?")
_JOB = re.compile(
    rf"(?:(?:{'|'.join(_JOB_WORDS)})(?:\s+(?:{'|'.join(_NUMBER_WORDS)}))?|n[oº°]\.|n[º°]|n\.[oº°]|n[úu]m\.)?"
    r"\s*#?\s*([0-9]{1,10})",
    re.IGNORECASE,
)
_CODE_BEGINS = re.compile(r"[PCBU][0-3][0-9A-F]{1,2}", re.IGNORECASE | re.ASCII)
_PHONE = re.compile(r"^[\d\s+()/.\-]+$")


def plate_key(text: str) -> str:
    """Return letters and digits only, upper case: how a plate is compared."""
    return "".join(c for c in text.upper() if c.isalnum())[:16]


def phone_key(text: str) -> str:
    """Return the digits only: how a phone number is compared."""
    return "".join(c for c in text if c.isascii() and c.isdigit())[:40]


class Match(IntEnum):
    """How a job was found, the surest way first."""

    NUMBER = 1
    PLATE = 2
    PLATE_REORDERED = 3
    VIN = 4
    VIN_END = 5
    PHONE = 6
    NAME = 7
    CODE = 8
    PLATE_BEGIN = 9
    PLATE_PART = 10
    VIN_PART = 11
    PHONE_PART = 12
    WORDS = 13
    NAME_ALIKE = 14


def plate_groups(text: str) -> tuple[str, ...]:
    """Return a plate's runs of letters and of digits, upper case; none where it cannot be one.

    A plate has letters and digits; what people swap on the phone are these runs.
    """
    parts = "".join(c if c.isalnum() else " " for c in text.upper()).split()
    groups = tuple(
        "".join(run) for part in parts for _, run in groupby(part, key=lambda c: c.isalpha())
    )
    letters = [group.isalpha() for group in groups]
    if not 2 <= len(groups) <= _MAX_PLATE_GROUPS or all(letters) or not any(letters):
        return ()
    return groups if len("".join(groups)) <= _MAX_PLATE_LETTERS else ()


def plate_orders(groups: tuple[str, ...]) -> tuple[str, ...]:
    """Return the plates that the same groups make in another order.

    Two groups of letters typed as one may have been two, as in TLKD 204 for KD 204 TL.
    """
    ways = [groups]
    if len(groups) < _MAX_PLATE_GROUPS:
        for at, group in enumerate(groups):
            if group.isalpha():
                ways += [
                    (*groups[:at], group[:cut], group[cut:], *groups[at + 1 :])
                    for cut in range(1, len(group))
                ]
    typed = "".join(groups)
    orders = dict.fromkeys("".join(order) for way in ways for order in permutations(way))
    return tuple(order for order in orders if order != typed)


def spellings(word: str) -> tuple[str, ...]:
    """Return the spellings to try: SQLite ignores the case of ASCII letters only."""
    if word.isascii():
        return (word,)
    return tuple(dict.fromkeys((word, word.lower(), word.upper(), word.capitalize())))


@dataclass(frozen=True, slots=True)
class Query:
    """One typed line, prepared for each way of looking.

    Attributes
    ----------
    text
        As typed, blanks tidied.
    number
        A job number, as in `job 4`, `trabajo 4`, `#4` or `4`; None where it is none.
    plate, vin
        Letters and digits only; empty when too short to look for.
    plate_groups
        Runs of letters and digits of what may be a plate, or of a part of one.
    digits
        Of a phone number; empty where the text holds anything else than a number.
    code
        A trouble code or its beginning, or empty.
    words
        Words that all have to be found somewhere in the visit.
    """

    text: str
    number: int | None
    plate: str
    plate_groups: tuple[str, ...]
    vin: str
    digits: str
    code: str
    words: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to look for."""
        return not self.text


def query_read(text: str) -> Query:
    """Read the box; any text is a query, the empty one too."""
    tidy = " ".join(text.replace("\x00", "").split())[:200]
    key = plate_key(tidy)
    vin = vin_clean(tidy)
    job = _JOB.fullmatch(tidy)
    number = int(job[1]) if job else None
    digits = phone_key(tidy) if _PHONE.match(tidy) else ""
    return Query(
        text=tidy,
        number=number if number is not None and number <= MAX_NUMBER else None,
        plate=key if len(key) >= MIN_KEY else "",
        plate_groups=plate_groups(tidy),
        vin=vin[:20] if len(vin) >= 4 and vin.isascii() and vin.isalnum() else "",
        digits=digits if len(digits) >= MIN_DIGITS else "",
        code=code_exact(tidy) or (tidy.upper() if _CODE_BEGINS.fullmatch(tidy) else ""),
        words=tuple(tidy.split()[:MAX_WORDS]),
    )
