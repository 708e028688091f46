"""The sentences of a work order: the request, how sure it is, and what would rule it out.

"The hump is low" and "which cylinder it is" are two confidences, and the costly errors sit in
the second; they are said apart.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from jobs.core.patterns import Pattern
from jobs.core.pressure import percent

SignedAs: TypeAlias = Literal["accepted", "overruled", "without"]

LONGEST_REQUEST = 200
RELATIVE_ONLY = "Relative only: wear that is equal in every cylinder is invisible."


@dataclass(frozen=True, slots=True)
class RequestedFigure:
    """Relative compression of one cylinder with its 95 % interval, 1.00 = like the good ones.

    `cylinder` is None where the capture does not settle the number.
    """

    cylinder: int | None
    relative: float
    low: float
    high: float

    @property
    def whose(self) -> str:
        """Return whose figure it is, as far as that is settled."""
        return "one of them" if self.cylinder is None else f"cylinder {self.cylinder}"


def named(cylinders: Collection[int]) -> str:
    """Return 'cylinder 3', 'cylinders 2 and 3' or 'cylinders 1, 2 and 3'."""
    numbers = [str(c) for c in sorted(cylinders)]
    if len(numbers) == 1:
        return f"cylinder {numbers[0]}"
    return f"cylinders {', '.join(numbers[:-1])} and {numbers[-1]}"


def request_line(
    cylinders: Collection[int],
    pattern: Pattern,
    high: Collection[int] = (),
    *,
    high_are_companions: bool = False,
    high_unnumbered: bool = False,
    coolant_first: bool = False,
    timing_in_doubt: bool = False,
    sets: Sequence[Collection[int]] = (),
) -> str:
    """Return the work order's one-line request.

    Parameters
    ----------
    cylinders
        Suspect cylinders as signed.
    pattern
        How they stand to each other.
    high
        Cylinders that stand high, which must be looked at before anything is cranked.
    high_are_companions
        Whether they are two, 360 degrees apart: a bind once a turn is then likelier than liquid.
    high_unnumbered
        Whether something stands high and the capture does not say which cylinder.
    coolant_first
        Whether the job says that coolant is lost or it ran hot: the cooling system comes first.
    timing_in_doubt
        Whether a pattern or a code asks for barring over before anything is cranked.
    sets
        The sets of cylinders that fit, where none is settled.
    """
    if high or high_unnumbered:
        binds = high_are_companions and not coolant_first
        return _request_of_high(cylinders, high, binds=binds)
    if pattern is Pattern.OPEN:
        first = "test the cooling system, then" if coolant_first else "check"
        if timing_in_doubt:
            first = f"bar over before cranking, {first}"
        either = [s for s in sets if s]
        are = "are" if any(len(s) > 1 for s in either) else "is"
        which = (
            f"out whether {' or '.join(map(named, either))} {are} low"
            if len(either) == 2
            else f"which of {named(cylinders)} is low"
        )
        line = f"Find {which}, and why: {first} the sync, then a compression test."
        return line[:LONGEST_REQUEST]
    if not cylinders:
        return (_BAR_OVER if timing_in_doubt else "") + _OF_NONE.get(pattern, _MEASURE_ALL)
    verb = "is" if len(set(cylinders)) == 1 else "are"
    what = f"Find why {named(cylinders)} {verb} low"
    tails = {
        Pattern.ADJACENT: "is the gasket between them tight? Leak-down on both.",
        Pattern.BANK: "valve timing of that bank first; bar over before cranking.",
        Pattern.SAME_BANK: "valve gear and timing of that bank; bar over before cranking.",
        Pattern.ALL: "valve timing first; bar over before cranking.",
    }
    usual = "leak-down and borescope beside a good cylinder."
    if pattern is Pattern.ADJACENT and timing_in_doubt:
        # two neighbours that are a whole bank
        tail = "bar over before cranking; valve timing, gasket between them. Leak-down on both."
    else:
        tail = tails.get(pattern, tails[Pattern.ALL] if timing_in_doubt else usual)
    if coolant_first:
        tail = f"test the cooling system first. {tail[:1].upper()}{tail[1:]}"
    return f"{what}: {tail}"[:LONGEST_REQUEST]


_BAR_OVER = "Bar over before cranking. "
_MEASURE_ALL = "Measure the compression of every cylinder and say which miss the limits."
_OF_NONE: dict[Pattern, str] = {
    Pattern.BANK_UNEVEN: (
        "Find why one bank is weaker: valve timing of both banks, then one cylinder of each in a "
        "compression test."
    ),
    Pattern.FAST_EVEN: (
        "Find out whether every cylinder is low: do not crank on, valve timing first."
    ),
}


def _request_of_high(cylinders: Collection[int], high: Collection[int], *, binds: bool) -> str:
    if not high:
        return (
            "Look for liquid in every cylinder before cranking again, then find what stands high."
        )
    low = ""
    if cylinders:
        verb = "is" if len(set(cylinders)) == 1 else "are"
        low = f", then find why {named(cylinders)} {verb} low"
    first = "Find what binds once a turn, then look" if binds else "Look"
    return f"{first} for liquid in {named(high)} before cranking again{low}."[:LONGEST_REQUEST]


def how_low(figures: Sequence[RequestedFigure], cycles: int, signed_as: SignedAs) -> str:
    """Say how far down the suspect cylinders are, and how sure that is.

    Parameters
    ----------
    figures
        Figures of the suspect cylinders; empty where the capture gives none.
    cycles
        Engine cycles behind them.
    signed_as
        How the verdict came to be.
    """
    if not figures:
        return "Not measured by a capture; a compression test has to say it."
    parts = [
        f"{f.whose} at {percent(f.relative)} of the good cylinders "
        f"(95 % interval {percent(f.low)} to {percent(f.high)})"
        for f in figures
    ]
    sentence = f"{'; '.join(parts)}, over {cycles} engine cycles. {RELATIVE_ONLY}"
    if signed_as == "overruled":
        sentence += " The diagnostician signed against the capture."
    return sentence[0].upper() + sentence[1:]


def pooled_words(
    figures: Sequence[RequestedFigure],
    captures: int,
    cycles: int,
    disagreements: Sequence[str],
    *,
    single: str = "",
) -> str:
    """Say what several captures make of the suspect cylinders together.

    Parameters
    ----------
    figures
        Pooled figures of the suspects that the captures agree about.
    captures, cycles
        How many are pooled, and their engine cycles.
    disagreements
        Sentences on what they do not agree about.
    single
        What people call the capture where only one counts; it is not pooled.
    """
    parts = [
        f"{f.whose} {percent(f.relative)} ({percent(f.low)} to {percent(f.high)})" for f in figures
    ]
    shown = f": {', '.join(parts)}" if parts else ""
    who = f"{single} by itself" if single else f"{captures} captures pooled"
    sentences = [f"{who}, {cycles} engine cycles{shown}."]
    if disagreements:
        they = "The captures" if single else "They"
        sentences.append(f"{they} do not agree: " + " ".join(disagreements))
    elif figures and not single:
        sentences.append("They agree.")
    return " ".join(sentences)


def is_open(signed: Collection[int], candidates: Sequence[Collection[int]]) -> bool:
    """Return whether all cylinders of several fitting sets were signed for, so none is settled."""
    sets = [set(c) for c in candidates if c]
    return len(sets) > 1 and set(signed) == set().union(*sets)


def which_cylinder(
    signed: Collection[int],
    candidates: Sequence[Collection[int]],
    signed_as: SignedAs,
) -> str:
    """Say how sure the cylinder numbers are.

    Parameters
    ----------
    signed
        Suspect cylinders as signed.
    candidates
        Sets of low cylinders that fit the capture; one where sync decides.
    signed_as
        How the verdict came to be.
    """
    if signed_as == "without":
        return (
            "Named without a capture: from triage alone. Let a compression test name the cylinder."
        )
    sets = [set(c) for c in candidates if c]
    if len(sets) > 1:
        fitting = " or ".join(named(c) for c in sets)
        picked = (
            "all of them are to be measured"
            if is_open(signed, candidates)
            else f"the diagnostician chose {named(signed)}"
            if signed
            else "the diagnostician chose none"
        )
        return (
            f"Not settled by the capture: {fitting} fit; {picked}. "
            "Measure the others too before anything is taken apart."
        )
    if signed_as == "overruled":
        return "Named by the diagnostician against the capture; see the reason."
    return (
        "Settled by the sync: it holds if the pick-up sat on the cylinder that was named and the "
        "numbering is the engine's own."
    )


def disproof(
    cylinders: Collection[int], companions: Mapping[int, int | None], rule_words: str
) -> str:
    """Say which readings would rule the verdict out.

    Parameters
    ----------
    cylinders
        Suspect cylinders as signed.
    companions
        The 360° companion of each suspect, None where there is none.
    rule_words
        The job's gauge limits in words.
    """
    if not cylinders:
        return f"A cylinder that misses the gauge limits ({rule_words})."
    one = len(set(cylinders)) == 1
    sentences = [
        f"A dry compression test with {named(cylinders)} inside the limits ({rule_words})."
    ]
    # A sync on the wrong turn maps a pair of companions onto itself: no doubt about those.
    others = sorted({o for o in companions.values() if o is not None} - set(cylinders))
    if others:
        which = "the 360° companion" if len(others) == 1 else "the 360° companions"
        sentences.append(
            f"If {named(others)}, {which}, {'reads' if len(others) == 1 else 'read'} low instead, "
            "the sync was on the wrong turn."
        )
    sentences.append(
        f"Low on the gauge but tight in the leak-down, {'it is' if one else 'they are'} a "
        "breathing fault, not a leak."
    )
    return " ".join(sentences)
