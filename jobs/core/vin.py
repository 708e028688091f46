"""Vehicle identification numbers: what is odd about one, said as a warning.

49 CFR 565 makes the check digit (ninth place) mandatory for North America; ISO 3779 leaves
it to the maker elsewhere, so a number is never refused for it.
"""

import re
from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.findings import chained

LENGTH = 17
CHECK_PLACE = 8
"""0-based index of the check digit."""

# 49 CFR 565.15(c), tables III and IV.
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
VALUES: dict[str, int] = {
    **{str(digit): digit for digit in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_MISTAKEN = {"I": "1", "O": "0", "Q": "0"}


@dataclass(frozen=True, slots=True)
class VinCheck:
    """A number as it is kept, and what a person should look at again.

    Attributes
    ----------
    vin
        Upper case, without blanks and hyphens.
    warnings
        Sentences; empty where nothing is odd.
    """

    vin: str
    warnings: tuple[str, ...]


def vin_clean(text: str) -> str:
    """Return `text` as it is kept: upper case, without blanks, hyphens and stars around it."""
    return re.sub(r"[\s\-*]", "", text).upper()


def weighted_sum(vin: str) -> int:
    """Return the weighted sum of a 17-character number (49 CFR 565.15(c)).

    Raises
    ------
    ValueError
        If the length is not 17 or a character has no value.
    """
    if len(vin) != LENGTH:
        raise ValueError(_("A VIN has 17 characters."))
    try:
        return sum(VALUES[c] * weight for c, weight in zip(vin, WEIGHTS, strict=True))
    except KeyError as error:
        raise ValueError(f"{error.args[0]!r} has no value in a VIN.") from None


def check_digit(vin: str) -> str:
    """Return the check digit that belongs to a 17-character number: the sum modulo 11, 10 as X."""
    rest = weighted_sum(vin) % 11
    return "X" if rest == 10 else str(rest)


def vin_check(text: str) -> VinCheck:
    """Clean a number and say what is odd about it; nothing is refused, empty is fine."""
    vin = vin_clean(text)
    if not vin:
        return VinCheck(vin, ())
    warnings: list[str] = []
    if len(vin) != LENGTH:
        warnings.append(
            _(
                "This VIN has {count} characters instead of 17 (older vehicles may have "
                "fewer); compare it with the vehicle."
            ).format(count=len(vin))
        )
    mistaken = [c for c in dict.fromkeys(vin) if c in _MISTAKEN]
    if mistaken:
        swaps = chained(
            [say("{letter} (perhaps {other})", letter=c, other=_MISTAKEN[c]) for c in mistaken],
            "and",
        )
        warnings.append(
            _("A VIN never holds the letters I, O and Q; look again at {swaps}.").format(
                swaps=swaps
            )
        )
    strange = [c for c in dict.fromkeys(vin) if c not in VALUES and c not in _MISTAKEN]
    if strange:
        warnings.append(
            _("A VIN holds letters and digits only; look again at {characters}.").format(
                characters=" ".join(strange)
            )
        )
    if not warnings and check_digit(vin) != vin[CHECK_PLACE]:
        warnings.append(
            _(
                "The check digit (9th place) is {digit} but {fitting} would fit: compare the "
                "VIN with the vehicle. European numbers need not carry one."
            ).format(digit=vin[CHECK_PLACE], fitting=check_digit(vin))
        )
    return VinCheck(vin, tuple(warnings))
