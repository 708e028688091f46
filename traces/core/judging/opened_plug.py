"""Which cylinder is which by a plug taken out: its compression drops out.

With a plug out a cylinder builds next to nothing, so that the one compression that is missing is
the opened cylinder's, whatever the sync leaves open. That needs one missing compression that
stands clear of all others: a leak, however large, is no open hole, and of two that are missing
either may be the one.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import TypeAlias

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.numerals import whole_percent
from shopdiag.people.core.words import NOTHING, Text, say
from traces.core.findings import Finding, finding, listed, place_letter
from traces.core.preparation import Measured, Prepared
from traces.core.report import Estimate, LabelConfidence, OpenedPlug
from traces.core.setup import EVENT_WORDS
from traces.core.twin import LabelWeights, is_settled

Judge: TypeAlias = Callable[[Measured], tuple[Estimate, ...]]
"""Turns strengths into figures relative to the sound cylinders, one a position."""

_OPEN_BELOW = 0.15
"""Figure of an open hole at most: 28 simulated ones of 60 to 110 mm2, of seven layouts and two
kinds of physics, read 0.00 to 0.09."""

_LEAKS_BELOW = 0.80

_CONFIDENCE = 0.98
"""In the labels where the opened cylinder settles them (assumed): what is left is a fit that puts
the missing compression in the wrong place."""

_SETTLED = frozenset({"sync-missing", "sync-angle-unknown", "sync-every-360", "which-cylinder"})
"""What is no longer open once the opened cylinder names the others."""


@dataclass(frozen=True, slots=True)
class ByPlug:
    """What is left open after the opened cylinder was looked for.

    Parameters
    ----------
    measured
        With the labels that put the opened cylinder where a compression is missing.
    noticed
        What was found before measuring, less what is no longer open.
    findings
        What is to be said of the plug.
    """

    measured: Measured
    noticed: tuple[Finding, ...]
    findings: tuple[Finding, ...]


def settle_by_plug(
    measured: Measured, prepared: Prepared, noticed: Sequence[Finding], judge: Judge
) -> ByPlug:
    """Keep the labels that put the opened cylinder where a compression is missing.

    Parameters
    ----------
    measured
        What a method measured, with the layouts that the sync leaves open.
    prepared
        The capture; its set-up names the opened cylinder.
    noticed
        What was found before measuring.
    judge
        Gives the figures of a layout.

    Returns
    -------
    ByPlug
        With a `stop` finding where no compression is missing, or another cylinder's.
    """
    opened, noticed = prepared.setup.opened_plug, tuple(noticed)
    if opened is None:
        return ByPlug(measured, noticed, ())
    layouts = (measured, *measured.alternatives)
    missing = {id(layout): missing_places(judge(layout)) for layout in layouts}
    if not missing[id(measured)]:
        why = _why_none(judge(measured))
        return ByPlug(measured, noticed, (finding("plug-not-open", opened=opened, why=why),))
    kept = [
        layout.relabelled(labelings)
        for layout in layouts
        if (labelings := _with_opened_at(layout, opened, missing[id(layout)]))
    ]
    if not kept:
        return ByPlug(measured, noticed, (_mismatch(measured, prepared, missing[id(measured)]),))
    first = replace(
        kept[0],
        alternatives=tuple(kept[1:]),
        # doubts about the engine stand at the likeliest layout alone
        findings=tuple(dict.fromkeys(chain(kept[0].findings, measured.findings))),
    )
    left = [labels for layout in kept for labels in layout.labelings]
    places = sorted({labels.index(opened) for labels in first.labelings})
    place = places[0]
    if len(left) > 1:
        told = finding("plug-open-unclear", opened=opened, why=_why_unclear(places))
        if len(places) == 1:
            first = _marked_open(first, opened, place, names=False)
        return ByPlug(first, noticed, (told,))
    share = whole_percent(judge(first)[place].relative)
    told = finding("plug-open", opened=opened, place=place_letter(place + 1), share=share)
    names = not _is_settled(measured)
    first = _marked_open(first, opened, place, names=names)
    if not names:
        return ByPlug(first, noticed, (told,))
    first = replace(
        first,
        findings=_still_open(first.findings),
        parts=replace(first.parts, label=_settled_label(first, prepared)),
    )
    return ByPlug(first, _still_open(noticed), (told,))


def called_open(estimates: tuple[Estimate, ...], measured: Measured) -> tuple[Estimate, ...]:
    """Return the figures with the opened cylinder called open, where it is known which it is."""
    opened = measured.parts.opened_plug
    if opened is None:
        return estimates
    return tuple(replace(e, call="open") if e.position == opened.position else e for e in estimates)


def plug_note(measured: Measured, order: FiringOrder) -> Text:
    """Return what cylinder numbers rest on where the opened cylinder names them; else nothing."""
    opened = measured.parts.opened_plug
    if opened is None or not opened.names_the_others:
        return NOTHING
    return say(
        "Cylinder numbers rest on the plug of cylinder {opened}, entered as out, whose compression "
        "drops out, and on the firing order {order} as entered.",
        opened=opened.cylinder,
        order=order,
    )


def missing_places(estimates: Sequence[Estimate]) -> tuple[int, ...]:
    """Return the places, from 0, whose compression may be the one that an open hole lacks.

    More than one where the lowest does not stand clear of another; none where none is missing.
    """
    lowest = min(estimates, key=lambda e: e.relative)
    if lowest.relative > _OPEN_BELOW:
        return ()
    return tuple(
        i
        for i, e in enumerate(estimates)
        if e.relative <= _OPEN_BELOW or (e.low <= _OPEN_BELOW and e.low <= lowest.high)
    )


def _why_none(estimates: Sequence[Estimate]) -> Text:
    lowest = min(estimates, key=lambda e: e.relative)
    share = whole_percent(lowest.relative)
    if lowest.relative < _LEAKS_BELOW:
        return say("the lowest is at {share} %, which is a leak and no open hole", share=share)
    return say("the lowest is at {share} %", share=share)


def _why_unclear(places: Sequence[int]) -> Text:
    if len(places) == 1:
        return say("the uneven firing angles fit these compressions in more than one way")
    which = listed([place_letter(place + 1) for place in places], "or")
    return say("that may be compression {which} in firing order", which=which)


def _marked_open(measured: Measured, opened: int, place: int, *, names: bool) -> Measured:
    """Return the same with a note of which position is open, and whether that names the others."""
    told = OpenedPlug(cylinder=opened, position=place + 1, names_the_others=names)
    return replace(measured, parts=replace(measured.parts, opened_plug=told))


def _with_opened_at(
    layout: Measured, opened: int, places: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    return tuple(labels for labels in layout.labelings if labels.index(opened) in places)


def _mismatch(measured: Measured, prepared: Prepared, places: Sequence[int]) -> Finding:
    """Name the cylinders that the labels put where a compression is missing."""
    found = sorted({labels[place] for labels in measured.labelings for place in places})
    mark = prepared.mark
    source = say("the firing angles entered")
    if mark is not None:
        known = {"event": EVENT_WORDS[mark.event], "cylinder": mark.cylinder}
        if mark.by_hand:
            source = say("the {event} of cylinder {cylinder}, marked by hand", **known)
        else:
            source = say(
                "the {event} of cylinder {cylinder} on channel {channel}",
                channel=mark.channel,
                **known,
            )
    opened = prepared.setup.opened_plug
    return finding("plug-mismatch", opened=opened, found=listed(found, "or"), source=source)


def _is_settled(measured: Measured) -> bool:
    """Return whether the labels were settled without the plug."""
    label = measured.parts.label
    is_one = not measured.alternatives and len(measured.labelings) == 1
    return is_one and label is not None and is_settled(label.confidence)


def _settled_label(measured: Measured, prepared: Prepared) -> LabelConfidence | None:
    """Return how sure the labels are now; as before where the method fits no top dead centre."""
    fit = measured.parts.cycle_fit
    if fit is None:
        return measured.parts.label
    order = prepared.order
    # the fit's first position, and the cylinder from which the cycle is counted
    first = order.starting_at(measured.labelings[0][0])
    after_deg = fit.tdc_deg[0] + first.angle_of(order.sequence[0])
    after_deg = (after_deg + CYCLE_DEG / 2) % CYCLE_DEG - CYCLE_DEG / 2
    return LabelWeights(after_deg, _CONFIDENCE).told()


def _still_open(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(f for f in findings if f.code not in _SETTLED)
