"""Cranking and running balance of one engine side by side.

Weak in both is mechanical; even while cranking and weak at idle is the burn: spark, fuel or air.
Weak while cranking and even at idle contradict each other. All common practice.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from enum import StrEnum

from jobs.core.balances import Balance, Disagreement
from jobs.core.request import named
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext


class Beside(StrEnum):
    """What a running balance amounts to beside a cranking one."""

    MECHANICAL = "mechanical"
    BURN = "burn"
    CONTRADICTION = "contradiction"
    LEANS_MECHANICAL = "leans-mechanical"
    WATCH = "watch"
    BORDERLINE = "borderline"
    EVEN = "even"
    IDLES_EVENLY = "idles-evenly"
    STILL_WEAK = "still-weak"
    NEWLY_WEAK = "newly-weak"
    ADDS_AGAIN = "adds-again"
    OPEN = "open"
    DISAGREE = "disagree"


@dataclass(frozen=True, slots=True)
class BesideLine:
    """One sentence and what to do, about the cylinders it names.

    Parameters
    ----------
    is_doubtful
        Whether it holds only as far as the recordings can tell.
    """

    kind: Beside
    cylinders: tuple[int, ...]
    words: str
    remedy: str
    is_doubtful: bool = False


def beside_lines(
    cranking: Balance | None,
    running: Balance,
    *,
    is_diesel: bool,
    is_traction: bool = False,
    disagree: Disagreement | None = None,
) -> tuple[BesideLine, ...]:
    """Return what both tests say together, what is to be done first in front.

    Parameters
    ----------
    cranking
        None where no cranking capture was judged.
    is_diesel
        Nothing is lit by a spark then.
    is_traction
        Whether the drive motor cranks it, so that no starter current tells its compression.
    disagree
        How several captures of the idling engine differ.
    """
    if not running.is_judged:
        return ()
    if disagree is not None:
        return (_disagree(disagree),)
    if cranking is None or not cranking.is_judged:
        lines = _without_cranking(running, is_traction=is_traction)
    elif not (cranking.is_settled and running.is_settled):
        lines = (_numbers_open(),)
    else:
        lines = _side_by_side(cranking, running, is_diesel=is_diesel)
    return _as_sure(lines, running)


def _side_by_side(
    cranking: Balance, running: Balance, *, is_diesel: bool
) -> tuple[BesideLine, ...]:
    both = cranking.weak & running.weak
    not_cleared = cranking.weak | cranking.watch | cranking.untested
    found = [
        _mechanical(both),
        _leans_mechanical(cranking.weak & running.watch),
        _contradiction(cranking.weak - running.weak - running.watch),
        _watch(running.weak & cranking.watch - both),
        _untested(running.weak & cranking.untested - both, is_traction=False),
        _burn(
            running.weak - not_cleared,
            is_diesel=is_diesel,
            is_uncertain=cranking.is_uncertain,
        ),
    ]
    lines = tuple(line for line in found if line is not None)
    if lines:
        return lines
    between = cranking.watch | running.watch
    if between:
        return (_borderline(between),)
    is_uncertain = bool(cranking.is_uncertain or running.is_uncertain or cranking.untested)
    return (_even(is_uncertain=is_uncertain),)


def lines_after_repair(
    before: Balance | None, running: Balance, *, disagree: Disagreement | None = None
) -> tuple[BesideLine, ...]:
    """Return what an engine that idles after the repair says beside the same before it.

    Parameters
    ----------
    before
        The idling engine before the repair; None where it was not judged or names nobody surely.
    disagree
        How several captures after the repair differ.
    """
    if not running.is_judged:
        return ()
    if disagree is not None:
        return (_disagree(disagree),)
    was_weak = before.weak if before is not None and before.is_settled else frozenset()
    if not running.is_settled:
        return _as_sure((_weak_unnumbered(),), running)
    found = [
        _still_weak(was_weak & running.weak),
        _newly_weak(running.weak - was_weak),
        _borderline(running.watch) if running.watch else None,
        _adds_again(was_weak - running.weak - running.watch),
    ]
    lines = tuple(line for line in found if line is not None)
    told = lines or (_idles_evenly(""),)
    # what was weak before hangs on the flywheel as much as what is weak now
    return _as_sure(told, before if was_weak and before and before.rests_on_flywheel else running)


def _as_sure(lines: tuple[BesideLine, ...], idle: Balance) -> tuple[BesideLine, ...]:
    """Return lines that say so where they rest on the flywheel."""
    if not idle.rests_on_flywheel:
        return lines
    doubt = flywheel_doubt()
    return tuple(
        replace(line, remedy=f"{line.remedy} {doubt}".strip(), is_doubtful=True) for line in lines
    )


def flywheel_doubt() -> str:
    """Return what is added where another kind of flywheel would make other cylinders weak."""
    return _(
        "Which cylinder the idle names depends on the flywheel: confirm it by cutting the "
        "cylinders out one by one before any part is bought."
    )


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
        "{named} compresses less, but adds as much as the others at idle: the two tests "
        "contradict each other.",
        "{named} compress less, but add as much as the others at idle: the two tests contradict "
        "each other.",
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


def _leans_mechanical(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} compresses less and adds somewhat less at idle: that leans to mechanical.",
        "{named} compress less and add somewhat less at idle: that leans to mechanical.",
        len(cylinders),
    )
    return _line(
        Beside.LEANS_MECHANICAL,
        cylinders,
        words,
        _("Compression gauge or leak-down first; spark and fuel after that."),
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


def _untested(cylinders: Collection[int], *, is_traction: bool) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} adds less at idle, and its compression is not tested yet: whether it is "
        "compression or the burn is open.",
        "{named} add less at idle, and their compression is not tested yet: whether it is "
        "compression or the burn is open.",
        len(cylinders),
    )
    return _line(Beside.OPEN, cylinders, words, _test_compression(is_traction=is_traction))


def _borderline(cylinders: Collection[int]) -> BesideLine:
    words = ngettext(
        "No cylinder is clearly weak, but {named} is not clearly good: neither compression nor the "
        "burn is cleared.",
        "No cylinder is clearly weak, but {named} are not clearly good: neither compression nor "
        "the burn is cleared.",
        len(cylinders),
    )
    return BesideLine(
        Beside.BORDERLINE,
        tuple(sorted(cylinders)),
        words.format(named=named(sorted(cylinders))),
        _("Record it again, warm and with loads off; where it stays so, a gauge decides."),
    )


def _still_weak(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} still adds less at idle, as before the repair.",
        "{named} still add less at idle, as before the repair.",
        len(cylinders),
    )
    remedy = _("The repair has not cured it: look further before the vehicle goes back.")
    return _line(Beside.STILL_WEAK, cylinders, words, remedy)


def _newly_weak(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} adds less at idle after the repair.",
        "{named} add less at idle after the repair.",
        len(cylinders),
    )
    remedy = _("Check what was moved, unplugged or fitted there before the vehicle goes back.")
    return _line(Beside.NEWLY_WEAK, cylinders, words, remedy)


def _adds_again(cylinders: Collection[int]) -> BesideLine | None:
    if not cylinders:
        return None
    words = ngettext(
        "{named} adds as much as the others again at idle.",
        "{named} add as much as the others again at idle.",
        len(cylinders),
    )
    return _line(Beside.ADDS_AGAIN, cylinders, words, "")


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
    return _line(Beside.BURN, cylinders, words, remedy, is_doubtful=is_uncertain)


def _line(
    kind: Beside, cylinders: Collection[int], words: str, remedy: str, *, is_doubtful: bool = False
) -> BesideLine:
    numbers = tuple(sorted(cylinders))
    said = named(numbers)
    told = words.format(named=said[:1].upper() + said[1:])
    return BesideLine(kind, numbers, told, remedy, is_doubtful)


def _even(*, is_uncertain: bool) -> BesideLine:
    remedy = _("Look for what comes under load, cold or hot, or in all cylinders alike.")
    if is_uncertain:
        remedy += " " + _("The tests are even only as far as they can tell.")
    return BesideLine(
        Beside.EVEN,
        (),
        _("No cylinder is weak while cranking, and none adds less at idle."),
        remedy,
        is_uncertain,
    )


def _idles_evenly(remedy: str) -> BesideLine:
    return BesideLine(Beside.IDLES_EVENLY, (), _("No cylinder adds less at idle."), remedy)


def _without_cranking(running: Balance, *, is_traction: bool) -> tuple[BesideLine, ...]:
    if running.is_settled and running.weak:
        line = _untested(running.weak, is_traction=is_traction)
        return (line,) if line is not None else ()
    if running.is_settled and running.watch:
        return (_borderline(running.watch),)
    if running.is_settled:
        look = _("Look for what comes under load, cold or hot, or in all cylinders alike.")
        return (_idles_evenly(look),)
    return (_weak_unnumbered(),)


def _weak_unnumbered() -> BesideLine:
    return BesideLine(
        Beside.OPEN,
        (),
        _("Not all cylinders add alike at idle, and which one adds less is not settled."),
        _("Record it with a sync of known angle, such as the ignition of one cylinder."),
    )


def _test_compression(*, is_traction: bool) -> str:
    if is_traction:
        return _(
            "Measure the compression with a gauge, as the manufacturer specifies: no starter "
            "cranks this engine."
        )
    return _("Crank it with the fuel disabled and compare the cylinders' compression.")


def _numbers_open() -> BesideLine:
    return BesideLine(
        Beside.OPEN,
        (),
        _(
            "One of the two tests does not settle which cylinder it means: they cannot be laid "
            "side by side."
        ),
        _("Record a sync of known angle with both, such as the ignition of one cylinder."),
    )


def _disagree(how: Disagreement) -> BesideLine:
    if how is Disagreement.SOMETIMES:
        words = _(
            "Not every capture of the idling engine shows a cylinder that adds less: none of them "
            "counts."
        )
    else:
        words = _("Captures of the idling engine name different cylinders: none of them counts.")
    return BesideLine(
        Beside.DISAGREE,
        (),
        words,
        _("Record it again, warm and with loads off, or set aside with a reason what was wrong."),
    )
