"""The sentences of a work order: the request, how sure it is, and what would rule it out.

"The hump is low" and "which cylinder it is" are two confidences, and the costly errors sit in
the second; they are said apart.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from jobs.core.patterns import Pattern
from jobs.core.pressure import percent
from shopdiag.people.core.words import Text, gettext_noop, ngettext
from shopdiag.people.core.words import gettext as _
from traces.core.findings import chained, cylinders_words

SignedAs: TypeAlias = Literal["accepted", "overruled", "without"]

LONGEST_REQUEST = 200
RELATIVE_ONLY = gettext_noop("Relative only: wear that is equal in every cylinder is invisible.")


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
        return _("one of them") if self.cylinder is None else named([self.cylinder])


def named(cylinders: Collection[int]) -> str:
    """Return 'cylinder 3', 'cylinders 2 and 3' or 'cylinders 1, 2 and 3'."""
    return str(cylinders_words(sorted(cylinders)))


def one_or_other(sets: Collection[Collection[int]]) -> Text:
    """Return 'cylinder 3 or cylinders 2 and 4'."""
    return chained([cylinders_words(sorted(s)) for s in sets], "or")


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
        return request_of_high(cylinders, high, binds=binds)
    if pattern is Pattern.OPEN:
        return _request_of_open(
            cylinders, sets, coolant_first=coolant_first, timing_in_doubt=timing_in_doubt
        )
    if not cylinders:
        measure = _(_OF_NONE.get(pattern, _MEASURE_ALL))
        return (
            _("Bar over before cranking. {then}").format(then=measure)
            if timing_in_doubt
            else measure
        )
    what = ngettext(
        "Find why {cylinders} is low: {how}",
        "Find why {cylinders} are low: {how}",
        len(set(cylinders)),
    )
    tails = {
        Pattern.ADJACENT: _("is the gasket between them tight? Leak-down on both."),
        Pattern.BANK: _("valve timing of that bank first; bar over before cranking."),
        Pattern.SAME_BANK: _("valve gear and timing of that bank; bar over before cranking."),
        Pattern.ALL: _("valve timing first; bar over before cranking."),
    }
    usual = _("leak-down and borescope beside a good cylinder.")
    tail = tails.get(pattern, tails[Pattern.ALL] if timing_in_doubt else usual)
    if pattern is Pattern.ADJACENT and timing_in_doubt:
        # two neighbours that are a whole bank
        tail = _("bar over before cranking; valve timing, gasket between them. Leak-down on both.")
    if coolant_first:
        capital = f"{tail[:1].upper()}{tail[1:]}"
        tail = _("test the cooling system first. {then}").format(then=capital)
    return what.format(cylinders=named(cylinders), how=tail)[:LONGEST_REQUEST]


def _request_of_open(
    cylinders: Collection[int],
    sets: Sequence[Collection[int]],
    *,
    coolant_first: bool,
    timing_in_doubt: bool,
) -> str:
    either = [s for s in sets if s]
    which = _("which of {cylinders} is low").format(cylinders=named(cylinders))
    if len(either) == 2:
        which = ngettext(
            "out whether {either} is low", "out whether {either} are low", max(map(len, either))
        ).format(either=one_or_other(either))
    line = _("Find {which}, and why: check the sync, then a compression test.")
    if coolant_first and timing_in_doubt:
        line = _(
            "Find {which}, and why: bar over before cranking, test the cooling system, then the "
            "sync, then a compression test."
        )
    elif coolant_first:
        line = _(
            "Find {which}, and why: test the cooling system, then the sync, then a compression "
            "test."
        )
    elif timing_in_doubt:
        line = _(
            "Find {which}, and why: bar over before cranking, check the sync, then a compression "
            "test."
        )
    return line.format(which=which)[:LONGEST_REQUEST]


_MEASURE_ALL = gettext_noop(
    "Measure the compression of every cylinder and say which miss the limits."
)
_OF_NONE: dict[Pattern, str] = {
    Pattern.BANK_UNEVEN: (
        gettext_noop(
            "Find why one bank is weaker: valve timing of both banks, then one "
            "cylinder of each in a compression test."
        )
    ),
    Pattern.FAST_EVEN: (
        gettext_noop("Find out whether every cylinder is low: do not crank on, valve timing first.")
    ),
}


def request_of_high(cylinders: Collection[int], high: Collection[int], *, binds: bool) -> str:
    """Return what is asked for where something stands high, and then of low cylinders.

    Parameters
    ----------
    binds
        Whether two that stand high share a turn: a bind is then likelier than liquid.
    """
    if not high:
        return _(
            "Look for liquid in every cylinder before cranking again, then find what stands high."
        )
    look = _("Look for liquid in {high} before cranking again.")
    if cylinders and binds:
        look = ngettext(
            "Find what binds once a turn, then look for liquid in {high} before cranking again, "
            "then find why {low} is low.",
            "Find what binds once a turn, then look for liquid in {high} before cranking again, "
            "then find why {low} are low.",
            len(set(cylinders)),
        )
    elif cylinders:
        look = ngettext(
            "Look for liquid in {high} before cranking again, then find why {low} is low.",
            "Look for liquid in {high} before cranking again, then find why {low} are low.",
            len(set(cylinders)),
        )
    elif binds:
        look = _(
            "Find what binds once a turn, then look for liquid in {high} before cranking again."
        )
    return look.format(high=named(high), low=named(cylinders))[:LONGEST_REQUEST]


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
        return _("Not measured by a capture; a compression test has to say it.")
    parts = [
        # a share, no directive; xgettext:no-python-format
        _("{whose} at {relative} of the good cylinders (95 % interval {low} to {high})").format(
            whose=f.whose, relative=percent(f.relative), low=percent(f.low), high=percent(f.high)
        )
        for f in figures
    ]
    sentences = [
        _("{figures}, over {cycles} engine cycles.").format(
            figures="; ".join(parts), cycles=cycles
        ),
        _(RELATIVE_ONLY),
    ]
    if signed_as == "overruled":
        sentences.append(_("The diagnostician signed against the capture."))
    sentence = " ".join(sentences)
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
        _("{whose} {relative} ({low} to {high})").format(
            whose=f.whose, relative=percent(f.relative), low=percent(f.low), high=percent(f.high)
        )
        for f in figures
    ]
    who = _("{captures} captures pooled, {cycles} engine cycles")
    if single:
        who = _("{single} by itself, {cycles} engine cycles")
    who = who.format(single=single, captures=captures, cycles=cycles)
    sentences = [
        _("{captures}: {figures}.").format(captures=who, figures=", ".join(parts))
        if parts
        else f"{who}."
    ]
    if disagreements:
        they = _("The captures do not agree: {how}") if single else _("They do not agree: {how}")
        sentences.append(they.format(how=" ".join(disagreements)))
    elif figures and not single:
        sentences.append(_("They agree."))
    return " ".join(sentences)


def is_open(signed: Collection[int], candidates: Sequence[Collection[int]]) -> bool:
    """Return whether all cylinders of several fitting sets were signed for, so none is settled."""
    sets = [set(c) for c in candidates if c]
    return len(sets) > 1 and set(signed) == set().union(*sets)


def signed_cylinders(signed: Collection[int], candidates: Sequence[Collection[int]]) -> str:
    """Return 'cylinder 3 or cylinder 4' where all fitting sets were signed for, else all as one."""
    if is_open(signed, candidates):
        return str(one_or_other([c for c in candidates if c]))
    return named(signed)


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
        return _(
            "Named without a capture: from triage alone. Let a compression test name the cylinder."
        )
    sets = [set(c) for c in candidates if c]
    if len(sets) > 1:
        fitting = one_or_other(sets)
        left = sorted(set().union(*sets) - set(signed))
        told = _(
            "Not settled by the capture: it may be {sets}, and the diagnostician chose none. "
            "Measure all of them before anything is taken apart."
        )
        if signed and left:
            told = _(
                "Not settled by the capture: it may be {sets}, and the diagnostician chose "
                "{cylinders}. Measure {left} too before anything is taken apart."
            )
        elif signed:
            told = _(
                "Not settled by the capture: it may be {sets}. Measure all of them before "
                "anything is taken apart."
            )
        return told.format(sets=fitting, cylinders=named(signed), left=named(left))
    if not signed:
        return _("No cylinder is named; the tests have to name it.")
    if signed_as == "overruled":
        return _("Named by the diagnostician against the capture; see the reason.")
    return _(
        "Settled by the sync: it holds if the pick-up sat on the cylinder that "
        "was named and the numbering is the engine's own."
    )


def disproof(
    cylinders: Collection[int], companions: Mapping[int, int | None], *, is_fault: bool = False
) -> str:
    """Say which readings would rule the verdict out.

    Parameters
    ----------
    cylinders
        Suspect cylinders as signed.
    companions
        The 360° companion of each suspect, None where there is none.
    is_fault
        Whether a compression fault was signed; matters where no cylinder was.
    """
    if not cylinders and is_fault:
        return _("Every cylinder inside the gauge limits of this job.")
    if not cylinders:
        return _("A cylinder that misses the gauge limits of this job.")
    # by name: whoever gets the manufacturer's limits sets them later
    sentences = [
        _("A dry compression test with {cylinders} inside the gauge limits of this job.").format(
            cylinders=named(cylinders)
        )
    ]
    # A sync on the wrong turn maps a pair of companions onto itself: no doubt about those.
    others = sorted({o for o in companions.values() if o is not None} - set(cylinders))
    if others:
        sentences.append(
            ngettext(
                "If {others}, the 360° companion, reads low instead, the sync was on the wrong "
                "turn.",
                "If {others}, the 360° companions, read low instead, the sync was on the wrong "
                "turn.",
                len(others),
            ).format(others=named(others))
        )
    sentences.append(
        ngettext(
            "Low on the gauge but tight in the leak-down, it is a breathing fault, not a leak.",
            "Low on the gauge but tight in the leak-down, they are a breathing fault, not a leak.",
            len(set(cylinders)),
        )
    )
    return " ".join(sentences)
