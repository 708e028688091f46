"""The address behind a phone number that a person typed."""

import re

_DIGITS = range(3, 16)
"""Emergency numbers have three, international ones fifteen at most (ITU-T E.164); more are two."""
_NUMBER = re.compile(r"\s*(\+?)([\d\s().\-/]*\d)", re.ASCII)


def dial_address(phone: str) -> str:
    """Return the `tel:` address of a number; empty where none can be told.

    What follows the number in words, such as an extension, is left out.
    """
    found = _NUMBER.match(phone)
    if found is None:
        return ""
    number = found[2].replace("(0)", "") if found[1] else found[2]
    digits = re.sub(r"\D", "", number)
    return f"tel:{found[1]}{digits}" if len(digits) in _DIGITS else ""
