"""Trouble codes out of free text (SAE J2012 grammar), with their status.

Nothing is swallowed: what looks like a code and is none is listed with the reason, and the
caller keeps the text itself.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from jobs.core.code_lookalikes import AFTER, BEFORE, NotACode, lookalikes
from jobs.core.code_meaning import code_base, cylinder_named
from shopdiag.people.core.words import gettext_noop


class CodeStatus(StrEnum):
    """How the vehicle holds a code (SAE J1979 services $03, $07 and $0A)."""

    STORED = gettext_noop("stored")
    PENDING = gettext_noop("pending")
    PERMANENT = gettext_noop("permanent")
    UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class FoundCode:
    """One code in one status, where it was first seen.

    Attributes
    ----------
    code
        Upper case, "P0301", or "P0301-00" with a failure type (the two digits after the
        hyphen as in three-byte codes; form from memory).
    cylinder
        The cylinder that a misfire, injector or glow plug code names, else None.
    """

    code: str
    status: CodeStatus
    line_no: int
    line: str

    @property
    def base(self) -> str:
        """The five characters without the failure type."""
        return code_base(self.code)

    @property
    def cylinder(self) -> int | None:
        """The cylinder that the code names."""
        return cylinder_named(self.code)


@dataclass(frozen=True, slots=True)
class CodeReading:
    """What a text holds, in its order."""

    codes: tuple[FoundCode, ...]
    not_codes: tuple[NotACode, ...]


# A blank or hyphen after the letter is tolerated where it cannot be ordinary text.
_CODE = re.compile(
    BEFORE + r"(?:([PCBU])([0-3][0-9A-F]{3})|(P)(?:[ \t\xa0]{1,2}|-)([0-3][0-9A-F]{3})"
    r"|([CBU])(?:[ \t\xa0]{1,2}|-)(0[0-9A-F]{3}))(?:[-:]([0-9A-F]{2}))?" + AFTER,
    re.IGNORECASE | re.ASCII,
)
_STRONG: tuple[tuple[re.Pattern[str], CodeStatus], ...] = (
    (re.compile(r"\b(?:stored|confirmed)\b", re.IGNORECASE), CodeStatus.STORED),
    (re.compile(r"\bpending\b", re.IGNORECASE), CodeStatus.PENDING),
    (re.compile(r"\bpermanent\b", re.IGNORECASE), CodeStatus.PERMANENT),
    (
        re.compile(r"(?:\b(?:service|mode|sid)\s*)\$?(?:0x)?0?3\b|\$03\b", re.IGNORECASE),
        CodeStatus.STORED,
    ),
    (
        re.compile(r"(?:\b(?:service|mode|sid)\s*)\$?(?:0x)?0?7\b|\$07\b", re.IGNORECASE),
        CodeStatus.PENDING,
    ),
    (
        re.compile(r"(?:\b(?:service|mode|sid)\s*)\$?(?:0x)?(?:0?A|10)\b|\$0A\b", re.IGNORECASE),
        CodeStatus.PERMANENT,
    ),
)
# These words also stand in descriptions ("motor current"): only in a cell of their own.
_WEAK = re.compile(
    r"(?:current(?:ly)?|active|present|history|historic)"
    r"(?:\s+(?:dtcs?|codes?|faults?|trouble codes?|fault codes?))?",
    re.IGNORECASE,
)
_CELL_ENDS = re.compile(r"[\t,;|()\[\]:=]|\s[-–—]+\s|\s{2,}|^\s*[-–—*•]\s*")
_DENIED = re.compile(r"\b(?:not|no|non|un)[\s-]+$|\b(?:not|no)\s+(?:yet\s+)?$", re.IGNORECASE)
_ONLY_SEPARATORS = re.compile(r"(?:[\W_]|\band\b|\bplus\b)*", re.IGNORECASE)
_HEADING_WORDS = 6


def codes_read(text: str) -> CodeReading:
    """Return the codes of `text`, merged per status, and what only looks like codes.

    The status of a code comes from its line ("P0301 pending", "Pending: P0301, P0302"), or
    from the last heading above it ("Permanent codes", "Service $07").
    """
    found: dict[tuple[str, CodeStatus], FoundCode] = {}
    not_codes: dict[tuple[str, int], NotACode] = {}
    section: frozenset[CodeStatus] = frozenset()
    for line_no, line in enumerate(text.splitlines(), start=1):
        matches = list(_CODE.finditer(line))
        if matches:
            statuses, section = _statuses_of_line(line, matches, section)
            for match, status_set in zip(matches, statuses, strict=True):
                for status in sorted(status_set or {CodeStatus.UNKNOWN}):
                    code = FoundCode(_normal(match), status, line_no, line.strip())
                    found.setdefault((code.code, status), code)
        else:
            section = _section_of(line) or section
        rest = _CODE.sub(lambda match: " " * len(match.group()), line)
        for not_a_code in lookalikes(
            rest, line=line.strip(), line_no=line_no, beside_codes=bool(matches)
        ):
            not_codes.setdefault((not_a_code.text, line_no), not_a_code)
    return CodeReading(
        codes=tuple(c for c in found.values() if not _told_better(c, found)),
        not_codes=tuple(not_codes.values()),
    )


def code_exact(text: str) -> str | None:
    """Return the code that `text` is as a whole, normalised, or None."""
    match = _CODE.fullmatch(text.strip())
    return _normal(match) if match else None


def _normal(match: re.Match[str]) -> str:
    parts = [part.upper() for part in match.groups()[:6] if part]
    failure_type = match.group(7)
    return "".join(parts) + (f"-{failure_type.upper()}" if failure_type else "")


def _told_better(code: FoundCode, found: dict[tuple[str, CodeStatus], FoundCode]) -> bool:
    """Return whether the same code stands elsewhere with its status."""
    return code.status is CodeStatus.UNKNOWN and any(
        other == code.code and status is not CodeStatus.UNKNOWN for other, status in found
    )


def _statuses_in(text: str) -> frozenset[CodeStatus]:
    """Return every status that a piece of a line names."""
    found = {
        status
        for pattern, status in _STRONG
        for match in pattern.finditer(text)
        if not _DENIED.search(text[: match.start()])
    }
    if any(_WEAK.fullmatch(cell.strip()) for cell in _CELL_ENDS.split(text)):
        found.add(CodeStatus.STORED)
    return frozenset(found)


def _section_of(line: str) -> frozenset[CodeStatus]:
    """Return the statuses that a line without codes puts over the lines below it."""
    if len(line.split()) > _HEADING_WORDS:
        return frozenset()
    return _statuses_in(line)


def _statuses_of_line(
    line: str, matches: list[re.Match[str]], section: frozenset[CodeStatus]
) -> tuple[list[frozenset[CodeStatus]], frozenset[CodeStatus]]:
    """Return the statuses of each code of a line, and the section that holds below it."""
    head = line[: matches[0].start()]
    ends = [m.start() for m in matches[1:]] + [len(line)]
    gaps = [line[m.end() : end] for m, end in zip(matches, ends, strict=True)]
    before = [_statuses_in(head), *(_statuses_in(gap) for gap in gaps[:-1])]
    after = [_statuses_in(gap) for gap in gaps]
    if before[0] and not after[-1]:
        # "Pending: P0301, P0302  Stored: P0303": a word holds until the next one.
        told: list[frozenset[CodeStatus]] = []
        for named in before:
            told.append(named or told[-1])
        below = told[-1] if ":" in head else section
        return told, below
    told = [frozenset()] * len(matches)
    following: frozenset[CodeStatus] = frozenset()
    for i in reversed(range(len(matches))):
        if after[i]:
            following = after[i]
        elif not _ONLY_SEPARATORS.fullmatch(gaps[i]):
            following = frozenset()
        told[i] = following or before[0] or section
    return told, section
