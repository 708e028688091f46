"""Text that somebody may have meant as a trouble code although it is none."""

import re
import unicodedata
from dataclasses import dataclass

from shopdiag.people.core.words import gettext as _

# Letters and digits of any script bound a code; an underscore does not.
BEFORE = r"(?<![^\W_])"
AFTER = r"(?![^\W_])"
GRAMMAR = re.compile(r"[PCBU][0-3][0-9A-F]{3}")

# Letters typed or scanned where a digit belongs, and look-alikes from other alphabets.
_DIGIT_FOR = str.maketrans({"O": "0", "Q": "0", "I": "1", "L": "1", "S": "5", "Z": "2", "G": "6"})
_LATIN_FOR = str.maketrans({"Р": "P", "С": "C", "В": "B", "О": "O", "Α": "A", "Β": "B", "Ρ": "P"})
_RUN_INTO = re.compile(r"^(?:DTC|DTCS|CODE|CODES|FAULT|ECU|ECM|PCM)?((?:[PCBU][0-3][0-9]{3})+)")

_TOKEN = re.compile(r"[^\W_]+")
_SPLIT_LETTER = re.compile(BEFORE + r"([PCBU])[^\w\n]{1,2}([0-3][0-9A-F]{3})" + AFTER)
_SPLIT_DIGITS = re.compile(BEFORE + r"([Pp][0-3][0-9]{1,2})[ .\-]([0-9]{1,2})" + AFTER)


@dataclass(frozen=True, slots=True)
class NotACode:
    """Something that looks like a code and is none.

    Attributes
    ----------
    text
        As it stands in the paste.
    line_no
        From 1.
    line
        The whole line.
    why
        One sentence.
    suggestion
        The code it may have been meant to be, or empty.
    """

    text: str
    line_no: int
    line: str
    why: str
    suggestion: str = ""


def lookalikes(rest: str, *, line: str, line_no: int, beside_codes: bool) -> list[NotACode]:
    """Return the look-alikes of one line.

    Parameters
    ----------
    rest
        The line with its recognised codes blanked out.
    beside_codes
        Whether the line holds recognised codes; bare numbers then count as look-alikes.
    """
    found: list[tuple[int, NotACode]] = []

    def add(match: re.Match[str], why: str, suggestion: str = "") -> str:
        found.append((match.start(), NotACode(match.group(), line_no, line, why, suggestion)))
        return " " * len(match.group())

    def split(match: re.Match[str]) -> str:
        joined = (match.group(1) + match.group(2)).upper()
        if not GRAMMAR.fullmatch(joined):
            return match.group()
        return add(match, _("A code is written in one piece."), joined)

    rest = _SPLIT_LETTER.sub(split, rest)
    rest = _SPLIT_DIGITS.sub(split, rest)
    bare = beside_codes or not re.search(
        r"[^\W\d_]", re.sub(r"(?i)\b[pcbux][0-9a-fx]*\b", "", rest)
    )
    for match in _TOKEN.finditer(rest):
        judged = _judge(match.group(), bare=bare)
        if judged:
            add(match, *judged)
    return [not_a_code for _, not_a_code in sorted(found, key=lambda pair: pair[0])]


def _judge(token: str, *, bare: bool) -> tuple[str, str] | None:
    """Return why `token` is no code and what it may be, or None for ordinary text."""
    text = unicodedata.normalize("NFKC", token).upper().translate(_LATIN_FOR)
    digits = sum(c.isdigit() for c in text)
    # Long runs are identification or part numbers.
    if digits == 0 or (len(text) > 16 and not _RUN_INTO.match(text)):
        return None
    return (
        _judge_five(text, digits)
        or _judge_run_into(text)
        or _judge_length(text, bare=bare)
        or _judge_bare(text, bare=bare)
    )


def _judge_five(text: str, digits: int) -> tuple[str, str] | None:
    if len(text) != 5 or not text[0].isalpha():
        return None
    if GRAMMAR.fullmatch(text):
        return _("It holds characters that only look like the right ones."), text
    if text[0] in "PCBU":
        return _judge_characters(text, digits)
    if re.fullmatch(r"[0-3][0-9]{3}", text[1:]):
        return _("No code begins with {text}: P, C, B or U does.").format(text=text[0]), ""
    return None


def _judge_characters(text: str, digits: int) -> tuple[str, str] | None:
    mended = text[0] + text[1:].translate(_DIGIT_FOR)
    if digits >= 2 and GRAMMAR.fullmatch(mended):
        wrong = ", ".join(dict.fromkeys(a for a, b in zip(text, mended, strict=True) if a != b))
        return _("It has the letter {wrong} where a digit belongs.").format(wrong=wrong), mended
    if digits >= 3 and re.fullmatch(r"[4-9][0-9A-F]{3}", text[1:]):
        return _("The second character is {text}; in a code it is 0 to 3.").format(text=text[1]), ""
    if digits >= 3 and text[1] in "0123":
        strange = next(c for c in text[2:] if c not in "0123456789ABCDEF")
        return _("{strange} is neither a digit nor one of the letters A to F.").format(
            strange=strange
        ), ""
    return None


def _judge_run_into(text: str) -> tuple[str, str] | None:
    match = _RUN_INTO.match(text)
    if not match or re.fullmatch(r"[PCBU][0-9A-F]*", text):
        return None
    codes = re.findall(r"[PCBU][0-3][0-9]{3}", match.group(1))
    return _("It runs into other text; put a blank around it."), " ".join(codes)


def _judge_length(text: str, *, bare: bool) -> tuple[str, str] | None:
    if re.fullmatch(r"[PCBU][0-3][0-9A-F]{4,8}", text) and sum(c.isdigit() for c in text) >= 4:
        short = f"{text[:5]}-{text[5:]}" if len(text) == 7 else text[:5]
        return _("It has {count} characters; a code has five.").format(count=len(text)), short
    always = re.fullmatch(r"P[0-3][0-9]{2}|P0[0-9A-F]{1,2}", text)
    alone = bare and re.fullmatch(r"[CBU][0-3][0-9A-F]{1,2}", text)
    if always or alone:
        return _("It has {count} characters; a code has five.").format(count=len(text)), ""
    return None


def _judge_bare(text: str, *, bare: bool) -> tuple[str, str] | None:
    two_bytes = re.fullmatch(r"0X([0-9A-F]{4})", text)
    if two_bytes:
        return _("It is the two-byte form of a code."), code_of_bytes(int(two_bytes.group(1), 16))
    if bare and re.fullmatch(r"0[0-9]{3}", text):
        return _("It has no letter; a code begins with P, C, B or U."), f"P{text}"
    return None


def code_of_bytes(value: int) -> str:
    """Return the code of its two-byte form: 0x0301 is P0301, 0xC100 is U0100.

    The two highest bits are the letter, the next two the second character (SAE J2012;
    both examples from memory).
    """
    return f"{'PCBU'[value >> 14]}{(value >> 12) & 3}{value & 0xFFF:03X}"
