"""Misfires counted per cylinder, out of a short text.

Counts compare between cylinders only: how long was counted differs by maker
(SAE J1979 service $06, monitors A2 to AD).
"""

import re
from collections.abc import Collection, Iterable, Mapping

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

MAX_CYLINDER = 16
MAX_COUNT = 10_000_000
MOST_USUAL_COUNT = 20_000
"""A cylinder that fires never counts so many in twenty minutes at 2000 rpm (a firing every two
turns)."""

FAR_APART = 5
LEAST_COMPARED = 50
"""Totals over one drive differ by less than that factor where the misfire stayed or moved; a digit
too many in one of several counts makes a total a little under ten times as large."""

MOST_LEFT_SHARE = 0.5
"""A repair that holds leaves no more of the misfires than this; chosen by judgement."""

_ASK = gettext_noop("Check the counts; confirm them if they are right.")
_PAIR = re.compile(
    r"(?:cyl(?:inder)?s?\.?|nr\.?|no\.?|#)?\s*#?\s*(\d{1,3})\s*(?:[:=\t]|->|\s-\s)\s*(\d+)(?!\d|\.\d)",
    re.IGNORECASE,
)
_PLAIN = re.compile(r"[\s,;]*\d+(?:[\s,;]+\d+)+[\s,;]*")
_BLANK_PAIR = re.compile(r"^\s*(?:cyl(?:inder)?\.?|#)\s*#?\s*(\d{1,3})\s+(\d+)\s*$", re.IGNORECASE)
_FILLER = re.compile(
    r"(?:[\s,;:|]|\bmisfires?\b|\bcounts?\b|\bcylinders?\b|\bcyl\b\.?)*", re.IGNORECASE
)


class CountsError(ValueError):
    """The text is no list of counts; the words are one sentence with what to do."""


def counts_read(text: str) -> dict[int, int]:
    """Read "1: 0, 2: 143", "cylinder 2 = 143" line by line, or plain "0 143 0 2" in order.

    Plain numbers that could be a cylinder and its count in turn, like "1 12 2 340", are refused.

    Returns
    -------
    dict of int to int
        Counts by cylinder number, in rising order.

    Raises
    ------
    CountsError
        If a piece is neither, a cylinder comes twice, or a number makes no sense.
    """
    pairs = _pairs(text)
    if _PLAIN.fullmatch(text):
        _check_not_pairs([count for _, count in pairs])
    if not pairs:
        raise CountsError(_("Type the counts as “1: 0, 2: 143”, one for each cylinder."))
    counts: dict[int, int] = {}
    for cylinder, count in pairs:
        if not 1 <= cylinder <= MAX_CYLINDER:
            raise CountsError(
                _("There is no cylinder {cylinder}; cylinders are 1 to {max_cylinder}.").format(
                    cylinder=cylinder, max_cylinder=MAX_CYLINDER
                )
            )
        if cylinder in counts:
            raise CountsError(
                _("Cylinder {cylinder} comes twice; give it one count.").format(cylinder=cylinder)
            )
        if count > MAX_COUNT:
            raise CountsError(
                _("The count of cylinder {cylinder} is too large; check it.").format(
                    cylinder=cylinder
                )
            )
        counts[cylinder] = count
    return dict(sorted(counts.items()))


def check_cylinders(counts: Iterable[int], cylinders: Collection[int] | None) -> None:
    """Refuse counts of a cylinder that the engine does not have.

    Parameters
    ----------
    counts
        Cylinder numbers that were counted.
    cylinders
        Those of the engine; None where the engine is not known.

    Raises
    ------
    CountsError
        With the first one that is none.
    """
    strange = sorted(set(counts) - set(cylinders)) if cylinders is not None else []
    if strange:
        raise CountsError(
            _(
                "This engine has no cylinder {strange}; it has {min} to {max}. Check the "
                "numbers, or the engine of the vehicle."
            ).format(strange=strange[0], min=min(cylinders or [1]), max=max(cylinders or [1]))
        )


def doubts_about_counts(counts: Iterable[int]) -> tuple[str, ...]:
    """Return why misfire counts are likely a slip; empty where they are not."""
    most = max(counts, default=0)
    if most <= MOST_USUAL_COUNT:
        return ()
    return (
        _("{most:,} misfires is more than a dead cylinder counts in twenty minutes. {ask}").format(
            most=most, ask=_(_ASK)
        ),
    )


def doubts_about_same(before: int, after: int) -> tuple[str, ...]:
    """Return why two totals of a misfire that is said to be there as before are likely a slip."""
    low, high = sorted((before, after))
    if high < LEAST_COMPARED or high < FAR_APART * low:
        return ()
    return (
        _(
            "{before:,} misfires before and {after:,} after are far apart for a "
            "misfire that is still there. {ask}"
        ).format(before=before, after=after, ask=_(_ASK)),
    )


def doubts_about_proof(before: int, after: int) -> tuple[str, ...]:
    """Return why two totals over one drive hardly prove a repair; empty where they do."""
    if after <= MOST_LEFT_SHARE * before:
        return ()
    return (
        _(
            "{after:,} misfires after and {before:,} before are not clearly fewer "
            "for a repair that holds. Confirm it if they have another cause, or "
            "choose “Still the same”."
        ).format(after=after, before=before),
    )


def doubts_beside_card(before: int, readings: Iterable[Mapping[str, int]]) -> tuple[str, ...]:
    """Return why a count before the repair is likely a slip beside those on the job card.

    Parameters
    ----------
    before
        Of one cylinder or of all, over the drive that is compared.
    readings
        The counts on the card, by cylinder; one that comes near is enough.
    """
    told = []
    for counts in readings:
        total, most = sum(counts.values()), max(counts.values(), default=0)
        if not total:
            continue
        is_far = before >= FAR_APART * total or before * FAR_APART <= most
        if not is_far or max(before, most) < LEAST_COMPARED:
            return ()
        told.append(total)
    if not told:
        return ()
    return (
        _("{before:,} misfires before are far from the {told:,} on the job card. {ask}").format(
            before=before, told=told[-1], ask=_(_ASK)
        ),
    )


def counts_text(counts: dict[str, int]) -> str:
    """Return counts the way they are typed."""
    return ", ".join(f"{cylinder}: {count}" for cylinder, count in counts.items())


def _pairs(text: str) -> list[tuple[int, int]]:
    if _PLAIN.fullmatch(text):
        return list(enumerate((_int(n) for n in re.findall(r"\d+", text)), start=1))
    found: list[tuple[int, int]] = []
    for line in text.splitlines():
        spaced = _BLANK_PAIR.match(line)
        if spaced:
            found.append((_int(spaced.group(1)), _int(spaced.group(2))))
            continue
        found += [(_int(a), _int(b)) for a, b in _PAIR.findall(line)]
        rest = _PAIR.sub(" ", line)
        if not _FILLER.fullmatch(rest):
            odd = " ".join(rest.split())[:40]
            raise CountsError(
                _("“{odd}” is no count; type them as “1: 0, 2: 143”.").format(odd=odd)
            )
    return found


def _check_not_pairs(numbers: list[int]) -> None:
    """Refuse plain numbers that could as well be a cylinder and its count in turn."""
    named = numbers[::2]
    if len(numbers) % 2 or not all(1 <= n <= MAX_CYLINDER for n in named):
        return
    if named not in (sorted(set(named)), sorted(set(named), reverse=True)):
        return
    in_turn = ", ".join(f"{c}: {n}" for c, n in zip(named, numbers[1::2], strict=True))
    in_order = ", ".join(f"{c}: {n}" for c, n in enumerate(numbers, start=1))
    raise CountsError(
        _(
            "These numbers can be read in two ways; type the one that is meant: "
            "“{in_turn}” or “{in_order}”."
        ).format(in_turn=in_turn, in_order=in_order)
    )


def _int(digits: str) -> int:
    """Return the number; one with too many digits becomes larger than any count."""
    return int(digits) if len(digits) <= 9 else MAX_COUNT + 1
