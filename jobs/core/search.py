"""What is typed into one box, seen as plate, VIN, phone number, code or words."""

import re
from dataclasses import dataclass

from jobs.core.codes import code_exact
from jobs.core.vin import vin_clean

MIN_DIGITS = 3
MIN_KEY = 2
MAX_WORDS = 8
_CODE_BEGINS = re.compile(r"[PCBU][0-3][0-9A-F]{1,2}", re.IGNORECASE | re.ASCII)
_PHONE = re.compile(r"^[\d\s+()/.\-]+$")


def plate_key(text: str) -> str:
    """Return letters and digits only, upper case: how a plate is compared."""
    return "".join(c for c in text.upper() if c.isalnum())[:16]


def phone_key(text: str) -> str:
    """Return the digits only: how a phone number is compared."""
    return "".join(c for c in text if c.isascii() and c.isdigit())[:40]


@dataclass(frozen=True, slots=True)
class Query:
    """One typed line, prepared for each way of looking.

    Attributes
    ----------
    text
        As typed, blanks tidied.
    plate, vin
        Letters and digits only; empty when too short to look for.
    digits
        Of a phone number; empty where the text holds anything else than a number.
    code
        A trouble code or its beginning, or empty.
    words
        Words that all have to be found somewhere in the visit.
    """

    text: str
    plate: str
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
    digits = phone_key(tidy) if _PHONE.match(tidy) else ""
    return Query(
        text=tidy,
        plate=key if len(key) >= MIN_KEY else "",
        vin=vin[:20] if len(vin) >= 4 and vin.isascii() and vin.isalnum() else "",
        digits=digits if len(digits) >= MIN_DIGITS else "",
        code=code_exact(tidy) or (tidy.upper() if _CODE_BEGINS.fullmatch(tidy) else ""),
        words=tuple(tidy.split()[:MAX_WORDS]),
    )
