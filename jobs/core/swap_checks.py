"""Swap tests whose counts or answers do not fit each other."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

from jobs.core.misfires import doubts_about_counts, doubts_about_same
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop
from traces.core.findings import listed

CLEARLY_MORE = 2
"""A cylinder with that many times the misfires of another is the one that misfires; counts of one
engine over two equal drives differ by less (common practice)."""

_ASK = gettext_noop("Check the cylinders and the counts; confirm them if they are right.")


_ASK_BOTH = gettext_noop("Check both tests; confirm it if both stand as recorded.")


@dataclass(frozen=True, slots=True)
class SwapAnswer:
    """What moved where, and whether the misfire followed: `yes`, `no` or `changed`."""

    part: str
    from_cylinder: int
    to_cylinder: int
    followed: str


def doubts_about_swap(
    swap: SwapAnswer, before: Mapping[int, int], after: Mapping[int, int]
) -> tuple[str, ...]:
    """Return why a swap test is likely a slip; empty where it is not.

    Parameters
    ----------
    swap
        The test as it was answered.
    before, after
        Misfires by cylinder number; empty where none were counted.
    """
    asked = list(doubts_about_counts([*before.values(), *after.values()]))
    for nothing, counts in (
        (_("The counts before the swap say nothing of cylinder {which}. {ask}"), before),
        (_("The counts after the swap say nothing of cylinder {which}. {ask}"), after),
    ):
        lacking = [c for c in (swap.from_cylinder, swap.to_cylinder) if c not in counts]
        if counts and lacking:
            asked.append(nothing.format(which=listed(lacking), ask=_(_ASK)))
    asked += _not_shown_before(swap, before)
    if swap.followed != "changed" and before and after:
        asked += doubts_about_same(sum(before.values()), sum(after.values()))
    return tuple(asked)


def _not_shown_before(swap: SwapAnswer, before: Mapping[int, int]) -> list[str]:
    """Return why the counts before the swap do not show the misfire where the part came from."""
    if swap.from_cylinder not in before:
        return []
    there = before[swap.from_cylinder]
    most = max(before, key=lambda c: before[c])
    if there == 0:
        return [
            _(
                "Before the swap cylinder {from_cylinder}, which the part came from, did "
                "not misfire at all. {ask}"
            ).format(from_cylinder=swap.from_cylinder, ask=_(_ASK))
        ]
    if before[most] >= CLEARLY_MORE * there:
        return [
            _(
                "Before the swap cylinder {most} misfired {before:,} times and cylinder "
                "{from_cylinder}, which the part came from, {there:,} times. {ask}"
            ).format(
                most=most,
                before=before[most],
                from_cylinder=swap.from_cylinder,
                there=there,
                ask=_(_ASK),
            )
        ]
    if before.get(swap.to_cylinder, 0) >= there:
        return [
            _(
                "Before the swap cylinder {to_cylinder} misfired as much as cylinder "
                "{from_cylinder}, so that nobody can tell what followed the part. {ask}"
            ).format(to_cylinder=swap.to_cylinder, from_cylinder=swap.from_cylinder, ask=_(_ASK))
        ]
    return []


PART_TESTED_BY = {"coil": "coil", "plugs": "plug", "injector": "injector"}
"""Tests of a finding that are about one part, and the part as swap tests call it."""


@dataclass(frozen=True, slots=True)
class PartFound:
    """What a test of a part itself found: `good`, `bad`, `ambiguous` or `not_done`."""

    part: str
    cylinder: int | None
    """None where all of the engine's were found alike."""
    outcome: str


def doubts_beside_parts(
    swaps: Iterable[SwapAnswer], found: Iterable[PartFound], labels: Mapping[str, str]
) -> tuple[str, ...]:
    """Return where a swap test and a test of the part itself say the opposite of a part.

    Parameters
    ----------
    swaps, found
        What is recorded, or about to be.
    labels
        A part's name by its key.
    """
    parts = list(found)
    asked = [
        _opposite(swap, one, labels[swap.part].lower())
        for swap in swaps
        for one in parts
        if one.part == swap.part
    ]
    return tuple(dict.fromkeys(words for words in asked if words))


def _opposite(swap: SwapAnswer, found: PartFound, part: str) -> str:
    is_its_own = found.cylinder == swap.from_cylinder
    words = ""
    if swap.followed == "yes" and found.outcome == "good" and (is_its_own or not found.cylinder):
        words = _(
            "The swap test found the {part} of cylinder {one} bad: the misfire followed it to "
            "cylinder {other}. The {part} is recorded as good. {ask}"
        )
    if swap.followed == "no" and found.outcome == "bad" and is_its_own:
        words = _(
            "The swap test cleared the {part} of cylinder {one}: the misfire stayed when it moved "
            "to cylinder {other}. The {part} is recorded as bad. {ask}"
        )
    return words.format(part=part, one=swap.from_cylinder, other=swap.to_cylinder, ask=_(_ASK_BOTH))


def contradictions_of_swaps(
    swaps: Iterable[SwapAnswer], labels: Mapping[str, str]
) -> tuple[str, ...]:
    """Return which tests of one part were answered so that both cannot be right.

    Tests of the same part that share a cylinder belong together: a part that is moved on or back.

    Parameters
    ----------
    swaps
        In the order in which they were recorded.
    labels
        A part's name by its key.
    """
    told = []
    for one, other in combinations(swaps, 2):
        if one.part == other.part and {one.followed, other.followed} == {"yes", "no"}:
            if not _places(one) & _places(other):
                continue
            told.append(
                _(
                    "Swap tests of the {part} contradict each other: {one}, {other}. Repeat "
                    "the swap before a part is bought."
                ).format(part=labels[one.part].lower(), one=_answer(one), other=_answer(other))
            )
    return tuple(dict.fromkeys(told))


def _places(swap: SwapAnswer) -> frozenset[int]:
    return frozenset((swap.from_cylinder, swap.to_cylinder))


def _answer(swap: SwapAnswer) -> str:
    answer = _("from cylinder {one} to {other} it stayed")
    if swap.followed == "yes":
        answer = _("from cylinder {one} to {other} it followed")
    return answer.format(one=swap.from_cylinder, other=swap.to_cylinder)
