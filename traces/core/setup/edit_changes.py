"""Changes by hand: from one set-up to the next, each with its words for the history."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from engines.core.firing import FiringOrder
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.setup.analysis_setup import AnalysisSetup, Fuel, SetupError, SyncSetup
from traces.core.setup.manual_edits import (
    ManualMarks,
    SpanS,
    edits_words,
    places_words,
    span_words,
    spans_words,
)

_NOTHING = say("That changes nothing; it is set up so already.")


@dataclass(frozen=True, slots=True)
class Changed:
    """A set-up as a hand left it.

    Parameters
    ----------
    analysis
        The new set-up.
    words
        What was changed, such as "Labels moved on by 1 place".
    """

    analysis: AnalysisSetup
    words: str


def labels_shifted(setup: AnalysisSetup, places: int) -> Changed:
    """Move the labels by so many places of the firing order; negative: back."""
    hand = setup.hand.moved(places, len(setup.firing_order))
    return _changed(
        setup,
        replace(setup, hand=hand),
        _("Labels moved {places}").format(places=places_words(places)),
    )


def only_judged(setup: AnalysisSetup, span_s: SpanS) -> Changed:
    """Judge one stretch alone."""
    hand = replace(setup.hand, span_s=span_s)
    words = _("Only {span_s} judged").format(span_s=span_words(span_s))
    return _changed(setup, replace(setup, hand=hand), words)


def all_judged(setup: AnalysisSetup) -> Changed:
    """Judge all of the crank again."""
    hand = replace(setup.hand, span_s=None)
    return _changed(setup, replace(setup, hand=hand), _("All of the crank judged again"))


def cycles_left_out(setup: AnalysisSetup, spans_s: Sequence[SpanS]) -> Changed:
    """Leave out the engine cycles in these stretches."""
    if not spans_s:
        raise SetupError(_("Tick the cycles that are to be left out."))
    hand = setup.hand
    for span_s in spans_s:
        hand = hand.without(span_s)
    return _changed(
        setup,
        replace(setup, hand=hand),
        _("Left out: {spans_s}").format(spans_s=spans_words(spans_s)),
    )


def cycles_taken_back(setup: AnalysisSetup, spans_s: Sequence[SpanS]) -> Changed:
    """Take stretches in again that were left out."""
    if not spans_s:
        raise SetupError(_("Tick the stretches that are to count again."))
    kept = tuple(s for s in setup.hand.left_out_s if s not in spans_s)
    hand = replace(setup.hand, left_out_s=kept)
    return _changed(
        setup,
        replace(setup, hand=hand),
        _("Counted again: {spans_s}").format(spans_s=spans_words(spans_s)),
    )


def marked(setup: AnalysisSetup, marks: ManualMarks) -> Changed:
    """Mark events of a cylinder; those of the same kind that were marked before stay.

    Raises
    ------
    SetupError
        If nothing changes by that.
    """
    before = setup.hand.marks
    alike = before and replace(before, times_s=marks.times_s) == marks
    if before and alike:
        marks = replace(marks, times_s=tuple(sorted({*before.times_s, *marks.times_s})))
    hand = replace(setup.hand, marks=marks)
    words = _("Marked by hand: {words}").format(words=marks.words)
    return _changed(setup, replace(setup, hand=hand), words)


def unmarked(setup: AnalysisSetup) -> Changed:
    """Take the marks away."""
    hand = replace(setup.hand, marks=None)
    return _changed(setup, replace(setup, hand=hand), _("Marks taken away"))


def rescaled(setup: AnalysisSetup, mv_per_a: float) -> Changed:
    """Enter another scale of the clamp."""
    if not setup.kind.is_current:
        raise SetupError(_("There is no clamp here whose scale could be changed."))
    words = _("Scale {before:g} to {after:g} mV/A").format(before=setup.mv_per_a, after=mv_per_a)
    return _changed(setup, replace(setup, mv_per_a=mv_per_a), words)


def turned_round(setup: AnalysisSetup, *, inverted_now: bool) -> Changed:
    """Turn the sign of the current round from how it was judged."""
    if not setup.kind.is_current:
        raise SetupError(_("There is no clamp here whose sign could be turned."))
    words = _("Current as recorded") if inverted_now else _("Current inverted")
    return _changed(setup, replace(setup, invert=not inverted_now), words)


def of_engine(setup: AnalysisSetup, order: FiringOrder, fuel: Fuel, name: str) -> Changed:
    """Take another engine: its firing order, angles and fuel.

    Labels are no longer moved then: so many places of another order mean something else.
    """
    hand = replace(setup.hand, shift=0)
    opened = setup.opened_plug if setup.opened_plug in order.sequence else None
    analysis = replace(setup, firing_order=order, fuel=fuel, hand=hand, opened_plug=opened)
    return _changed(setup, analysis, _("Engine: {name}").format(name=name))


def without_sync(setup: AnalysisSetup) -> Changed:
    """Judge without the recorded sync."""
    return _changed(setup, replace(setup, sync=None), _("Recorded sync not used"))


def with_sync(setup: AnalysisSetup, sync: SyncSetup) -> Changed:
    """Use a recorded sync again."""
    words = _("Sync on {channel} used again").format(channel=sync.channel)
    return _changed(setup, replace(setup, sync=sync), words)


def by_hand_words(first: AnalysisSetup, now: AnalysisSetup) -> str:
    """Return all that a hand changed between two set-ups, as a sentence; "" where nothing.

    Parameters
    ----------
    first
        As it was entered, before any hand.
    """
    words = edits_words(now.hand)
    if now.mv_per_a != first.mv_per_a:
        words.append(
            say(
                "scale changed from {before} to {after} mV/A by hand",
                before=f"{first.mv_per_a:g}",
                after=f"{now.mv_per_a:g}",
            )
        )
    if now.invert != first.invert:
        words.append(
            say("current inverted by hand")
            if now.invert
            else say("current taken as recorded by hand")
        )
    if (now.firing_order, now.fuel) != (first.firing_order, first.fuel):
        words.append(
            say(
                "engine changed from {before} to {after} by hand",
                before=first.firing_order,
                after=now.firing_order,
            )
        )
    if now.sync is None and first.sync is not None:
        words.append(say("the recorded sync not used, by hand"))
    together = "; ".join(map(str, words))
    return f"{together[:1].upper()}{together[1:]}." if together else ""


def _changed(before: AnalysisSetup, after: AnalysisSetup, words: str) -> Changed:
    if after == before:
        raise SetupError(_NOTHING)
    return Changed(after, words[:200])
