"""What one cell of a table can be: a number in some dialect, a gap, a time of day, a word."""

import re
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, TypeAlias

from traces.core.readers.text_units import UNIT_FACTORS

Decimal: TypeAlias = Literal[".", ","]
Kind: TypeAlias = Literal["number", "missing", "over", "unit", "clock", "word"]

MISSING_WORDS = (
    "", "nan", "-nan", "+nan", "n/a", "na", "null", "none", "-", "--", "---", "invalid", "nv",
)  # fmt: skip
OVER_WORDS = (
    "inf", "+inf", "-inf", "infinity", "+infinity", "-infinity", "∞", "+∞", "-∞", "ol", "+ol",
    "-ol", "o.l", "o.l.", "ovl", "+ovl", "-ovl", "over", "+over", "-over", "overflow",
    "+overflow", "-overflow", "overload", "overrange", "over range", "underflow", "out of range",
    "clip", "clipped",
)  # fmt: skip
_OVER = re.compile(r"[<>≤≥][-+]?[\d.,]+(?:[eE][-+]?\d+)?|[*#]{2,}|[-+]?9[.,]9[01]?0*[eE]\+?37")
_CLOCK = re.compile(
    r"(?:(?P<date>\d{4}-\d{2}-\d{2}|\d{4}/\d{2}/\d{2}|\d{1,2}\.\d{1,2}\.\d{4})[T ])?"
    r"(?P<hours>\d{1,2}):(?P<minutes>[0-5]\d)(?::(?P<seconds>[0-5]\d(?:[.,]\d+)?))?Z?"
)
_GROUP_SIGNS = {" ": "[ \u00a0\u2009\u202f]", ",": ",", ".": r"\.", "'": "['’]"}
BLANK_GROUPS = " \u00a0\u2009\u202f"


@dataclass(frozen=True)
class Numbers:
    """How numbers are written.

    Parameters
    ----------
    decimal
        Sign between whole and part.
    thousands
        Sign between groups of three digits: blank, comma, point, apostrophe, or "" for none.
    """

    decimal: Decimal = "."
    thousands: str = ""

    @cached_property
    def _figure(self) -> str:
        sign = re.escape(self.decimal)
        plain = rf"[0-9]+(?:{sign}[0-9]*)?|{sign}[0-9]+"
        if self.thousands:
            group = rf"{_GROUP_SIGNS[self.thousands]}[0-9]{{3}}"
            plain = rf"[1-9][0-9]{{0,2}}(?:{group})+(?:{sign}[0-9]*)?|{plain}"
        return rf"[-+−]?(?:{plain})(?:[eE][-+]?[0-9]+)?"

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Match a whole number."""
        return re.compile(self._figure)

    @cached_property
    def with_unit(self) -> re.Pattern[str]:
        """Match a number and the unit that stands behind it in the same cell."""
        return re.compile(
            rf"(?P<figure>{self._figure})(?:\s*(?P<unit>[^\W\d_]{{1,12}}|%|°)|\s+(?P<none>[-–—]))"
        )

    def value(self, text: str) -> float | None:
        """Return a number, or None where the text is none."""
        if self.pattern.fullmatch(text) is None:
            return None
        return float(self._plain(text))

    def value_with_unit(self, text: str) -> tuple[float, str] | None:
        """Return a number and the unit behind it, or None where the text is none of the kind.

        A dash that stands for no unit comes back as "".
        """
        found = self.with_unit.fullmatch(text)
        unit = "" if found is None or found["none"] else found["unit"]
        if found is None or (unit and unit.casefold() not in UNIT_FACTORS):
            return None
        return float(self._plain(found["figure"])), unit

    def _plain(self, text: str) -> str:
        if self.thousands == " ":
            for sign in BLANK_GROUPS:
                text = text.replace(sign, "")
        elif self.thousands:
            text = text.replace(self.thousands, "").replace("’", "")
        return text.replace(",", ".").replace("−", "-")

    def kind(self, text: str) -> Kind:
        """Return what a cell holds."""
        if self.pattern.fullmatch(text):
            return "over" if _OVER.fullmatch(text) else "number"
        folded = text.casefold()
        if folded in MISSING_WORDS:
            return "missing"
        if folded in OVER_WORDS or _OVER.fullmatch(text):
            return "over"
        if self.value_with_unit(text):
            return "unit"
        return "clock" if _CLOCK.fullmatch(text) else "word"

    def is_bare(self, text: str) -> bool:
        """Return whether a cell is a number or a gap, without anything else."""
        if self.pattern.fullmatch(text):
            return True
        folded = text.casefold()
        return folded in MISSING_WORDS or folded in OVER_WORDS or bool(_OVER.fullmatch(text))


def seconds_of_day(text: str) -> float | None:
    """Return a time of day, with or without a date before it, in seconds since midnight."""
    found = _CLOCK.fullmatch(text)
    if found is None or int(found["hours"]) > 24:
        return None
    seconds = float((found["seconds"] or "0").replace(",", "."))
    return 3600.0 * int(found["hours"]) + 60.0 * int(found["minutes"]) + seconds
