"""Cranking and running balance of one engine side by side.

Weak in both is mechanical; even while cranking and weak at idle is the burn: spark, fuel or air.
Weak while cranking and even at idle contradict each other. All common practice.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from jobs.core.pressure import percent
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext


class Beside(StrEnum):
    """What a running balance amounts to beside a cranking one."""

    MECHANICAL = "mechanical"
    BURN = "burn"
    CONTRADICTION = "contradiction"
    WATCH = "watch"
    EVEN = "even"
    OPEN = "open"
    DISAGREE = "disagree"


@dataclass(frozen=True, slots=True)
class Balance:
    """What one kind of test says.

    Parameters
    ----------
    is_judged
        Whether it has a verdict.
    weak
        Cylinders by number; empty where none is weak.
    watch
        Those between weak and good.
    is_settled
        Whether it is known which cylinders they are.
    is_uncertain
        Whether an even verdict holds only as far as the recording can tell.
    """

    is_judged: bool
    weak: frozenset[int] = frozenset()
    watch: frozenset[int] = frozenset()
    is_settled: bool = True
    is_uncertain: bool = False


@dataclass(frozen=True, slots=True)
class BesideLine:
    """One sentence and what to do, about the cylinders it names."""

    kind: Beside
    cylinders: tuple[int, ...]
    words: str
    remedy: str


def beside_lines(
    cranking: Balance | None, running: Balance, *, is_diesel: bool, disagree: bool = False
) -> tuple[BesideLine, ...]:
    """Return what both tests say together, what is to be done first in front.

    Parameters
    ----------
    cranking
        None where no cranking capture was judged.
    is_diesel
        Nothing is lit by a spark then.
    disagree
        Whether several captures of the idling engine name other cylinders.
    """
    if not running.is_judged:
        return ()
    if disagree:
        return (_disagree(),)
    if cranking is None or not cranking.is_judged:
        return (_crank_first(running),)
    if not (cranking.is_settled and running.is_settled):
        return (_numbers_open(),) if cranking.weak or running.weak else (_even(),)
    both = cranking.weak & running.weak
    found = [
        _mechanical(both),
        _contradiction(cranking.weak - running.weak),
        _watch(running.weak & cranking.watch - both),
        _burn(
            running.weak - cranking.weak - cranking.watch,
            is_diesel=is_diesel,
            is_uncertain=cranking.is_uncertain,
        ),
    ]
    lines = tuple(line for line in found if line is not None)
    return lines or (_even(),)


def _mechanical(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} is weak in both: it compresses less, and so it adds less. That is mechanical.",
        "{named} are weak in both: they compress less, and so they add less. That is mechanical.",
        len(cylinders),
    )
    return _line(
        Beside.MECHANICAL,
        cylinders,
        words,
        _("Compression gauge or leak-down first; spark and fuel after that."),
    )


def _contradiction(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} is weak while cranking, but adds as much as the others at idle: the two tests "
        "contradict each other.",
        "{named} are weak while cranking, but add as much as the others at idle: the two tests "
        "contradict each other.",
        len(cylinders),
    )
    return _line(
        Beside.CONTRADICTION,
        cylinders,
        words,
        _(
            "Repeat both and check the sync cylinder of each, before any work. A small leak can "
            "show only while cranking; a gauge decides."
        ),
    )


def _watch(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} adds less at idle and is to be watched in the cranking test: compression is not "
        "cleared.",
        "{named} add less at idle and are to be watched in the cranking test: compression is not "
        "cleared.",
        len(cylinders),
    )
    return _line(
        Beside.WATCH, cylinders, words, _("Compression gauge first, then spark, fuel and air.")
    )


def _burn(cylinders: Collection[int], *, is_diesel: bool, is_uncertain: bool) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} compresses like the others and adds less at idle: it does not burn as it should.",
        "{named} compress like the others and add less at idle: they do not burn as they should.",
        len(cylinders),
    )
    remedy = (
        _("Look at injection and air of that cylinder; swap its injector with a good one.")
        if is_diesel
        else _(
            "Look at spark, fuel and air of that cylinder: swap coil, plug and injector with a "
            "good one."
        )
    )
    if is_uncertain:
        remedy += " " + _("The cranking test is even only as far as it can tell.")
    return _line(Beside.BURN, cylinders, words, remedy)


def _line(kind: Beside, cylinders: Collection[int], words: str, remedy: str) -> BesideLine:
    numbers = tuple(sorted(cylinders))
    said = named(numbers)
    told = words.format(named=said[:1].upper() + said[1:])
    return BesideLine(kind, numbers, told, remedy)


def _even() -> BesideLine:
    return BesideLine(
        Beside.EVEN,
        (),
        _("No cylinder is weak while cranking, and none adds less at idle."),
        _("Look for what comes under load, cold or hot, or in all cylinders alike."),
    )


def _crank_first(running: Balance) -> BesideLine:
    return BesideLine(
        Beside.OPEN,
        tuple(sorted(running.weak)) if running.is_settled else (),
        _("No cranking test is judged yet: whether it is compression or the burn is open."),
        _("Crank it with the fuel disabled and compare the cylinders' compression."),
    )


def _numbers_open() -> BesideLine:
    return BesideLine(
        Beside.OPEN,
        (),
        _(
            "One of the two tests does not settle which cylinder is weak: they cannot be laid side "
            "by side."
        ),
        _("Record a sync of known angle with both, such as the ignition of one cylinder."),
    )


def _disagree() -> BesideLine:
    return BesideLine(
        Beside.DISAGREE,
        (),
        _("Captures of the idling engine name different cylinders: none of them counts."),
        _("Record it again, warm and with loads off, or set aside with a reason what was wrong."),
    )


def before_for_customer(shares: Mapping[int, float]) -> str:
    """Return what weak cylinders added at idle, for the customer; empty without figures."""
    return " ".join(
        _(
            "With the engine idling, cylinder {number} gave about {figure} of what the good "
            "cylinders gave."
        ).format(number=number, figure=percent(share))
        for number, share in shares.items()
    )


def after_for_customer(shares: Mapping[int, float], *, is_even: bool) -> str:
    """Return what cylinders add at idle after the repair, for the customer."""
    figures = ", ".join(
        _("cylinder {number} about {figure}").format(number=number, figure=percent(share))
        for number, share in shares.items()
    )
    if is_even:
        said = _("Recorded again after the repair, all cylinders give alike at idle.")
    else:
        said = _("Recorded again after the repair, the engine still idles unevenly.")
    return f"{said[:-1]}: {figures}." if figures else said
