"""What ties the engine's cycle to a cylinder: the sync channel's events, or a person's marks."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import NOTHING, say, say_count
from traces.core.crank.cranking import CrankSpan
from traces.core.findings import Finding, finding
from traces.core.setup import (
    EVENT_WORDS,
    AnalysisSetup,
    Fuel,
    ManualMarks,
    MarkedEvent,
    labels_moved,
    places_words,
)
from traces.core.sync import NO_SYNC, Pulses, Sync, SyncState, read_sync
from traces.core.waveform import Floats

_MARKS_APART_DEG = 25.0
"""From their common place: marks by eye are some 10 degrees off, 8 ms at 200 rpm."""


@dataclass(frozen=True, slots=True)
class CylinderMark:
    """Events whose cylinder is known.

    Parameters
    ----------
    cylinder
        As entered; moved labels are not in it.
    event
        What they are.
    channel
        Where they were recorded; None where a person marked them.
    angle_deg, angle_spread_deg
        Crank degrees of the event from the firing top dead centre of `cylinder`, negative before
        it, and the standard deviation of that; None where nobody stated it, so that only what is
        usual for such an event is known.
    of_first_edge
        Whether the angle was measured, so that of a cam's edges it is that of the first one after
        the longest pause.
    """

    cylinder: int
    event: MarkedEvent
    channel: str | None
    angle_deg: float | None = None
    angle_spread_deg: float | None = None
    of_first_edge: bool = False

    @property
    def by_hand(self) -> bool:
        """Whether a person marked them."""
        return self.channel is None


def recorded_sync(
    setup: AnalysisSetup,
    pulses: Pulses | None,
    times_s: Floats,
    count: Floats,
    seen_to_s: float | None = None,
) -> Sync:
    """Read the sync channel and hold it against what was said of it.

    Parameters
    ----------
    pulses
        Of the sync channel; None where none was recorded.
    times_s, count
        Engine cycles passed at each time; same shape.
    seen_to_s
        Until when events would show.
    """
    if pulses is None or setup.sync is None:
        return NO_SYNC
    several = setup.sync.event == "cam"
    sync = read_sync(pulses, times_s, count, several=several, seen_to_s=seen_to_s)
    every_turn = setup.sync.every_deg != CYCLE_DEG
    if every_turn and sync.state == "every-720" and sync.paired_to_s is None:
        # the user knows of a second event that did not show: do not decide between them
        return replace(sync, state="every-360")
    unclear = sync.perhaps_every_turn or sync.perhaps_single_from_s is not None
    if not every_turn and sync.state == "every-360" and not unclear:
        return replace(sync, state="doubled")
    return sync


def mark_of(setup: AnalysisSetup, sync: Sync) -> CylinderMark | None:
    """Return whose events tie the cycle to a cylinder; None where nothing does.

    Events of unknown angle count engine cycles, but stand on no cylinder.
    """
    mark = _event_of(setup, sync)
    return mark if mark is not None and is_angle_known(mark, setup.fuel) else None


def is_angle_known(mark: CylinderMark, fuel: Fuel) -> bool:
    """Return whether an event stands near a known place of its cylinder's compression.

    An ignition coil fires, and a diesel injector opens, near the firing top dead centre. Petrol
    may be injected in any stroke, by all injectors together while starting, and a cam's edge is
    wherever its maker put it: without a stated angle neither names a cylinder.
    """
    if mark.angle_deg is not None or mark.event in ("ignition", "tdc"):
        return True
    return mark.event == "injector" and fuel == "diesel"


def unknown_angle_finding(setup: AnalysisSetup, sync: Sync) -> list[Finding]:
    """Say that events keep to the engine's cycle but name no cylinder, and what would help."""
    mark = _event_of(setup, sync)
    if mark is None or is_angle_known(mark, setup.fuel):
        return []
    what = say(
        "{event} of cylinder {cylinder}", event=EVENT_WORDS[mark.event], cylinder=mark.cylinder
    )
    if mark.event == "cam":
        what = say("cam edge")
    several = NOTHING
    if sync.places > 1:
        several = say(" It comes {count} times an engine cycle.", count=sync.places)
    return [finding("sync-angle-unknown", channel=mark.channel, what=what, several=several)]


def _event_of(setup: AnalysisSetup, sync: Sync) -> CylinderMark | None:
    """Return what the events are, their angle known or not; None where none keep to the cycle."""
    if not sync.keeps_to_cycle:
        return None
    marks, recorded = setup.hand.marks, setup.sync
    if sync.by_hand and marks:
        alike = recorded and (recorded.cylinder, recorded.event) == (marks.cylinder, marks.event)
        angle_deg = recorded.angle_deg if recorded and alike else None
        return CylinderMark(marks.cylinder, marks.event, None, angle_deg)
    if recorded is None:
        return None
    return CylinderMark(
        recorded.cylinder,
        recorded.event,
        recorded.channel,
        recorded.angle_deg,
        recorded.angle_spread_deg,
        # one that somebody typed is kept without a spread
        recorded.angle_from == "kept" and recorded.angle_spread_deg is not None,
    )


def order_from(setup: AnalysisSetup, mark: CylinderMark | None) -> FiringOrder:
    """Return the engine counted from the marked cylinder, labels moved as a person wants."""
    if mark is None:
        return setup.firing_order
    return labels_moved(setup.firing_order.starting_at(mark.cylinder), setup.hand.shift)


def with_marks(
    recorded: Sync, setup: AnalysisSetup, span: CrankSpan, times_s: Floats, count: Floats
) -> tuple[Sync, list[Finding]]:
    """Let events marked by hand decide where the recorded ones do not.

    Parameters
    ----------
    recorded
        What the sync channel says.
    span
        The part looked at; `count` means nothing outside of it.
    times_s, count
        Engine cycles passed at each time, from the current; same shape.

    Returns
    -------
    tuple
        The events that count, and what is to be said of those marked.
    """
    marks = setup.hand.marks
    if marks is None or recorded.state in ("scattered", "crowded", "doubled"):
        return recorded, []  # what contradicts itself is mended by no mark
    half_known = recorded.state == "every-360" and marks.every_deg != CYCLE_DEG
    is_tied = mark_of(setup, recorded) is not None
    if is_tied and (recorded.state == "every-720" or half_known):
        return recorded, [finding("hand-mark-unused", marks=marks.words)]
    at_s = np.array([t for t in marks.times_s if span.settled_from_s <= t <= span.to_s])
    if at_s.size == 0:
        return recorded, [finding("hand-mark-outside", marks=marks.words)]
    off_deg = _off_deg(marks, np.interp(at_s, times_s, count))
    if float(np.abs(off_deg).max()) > _MARKS_APART_DEG:
        apart = f"{float(np.ptp(off_deg)):.0f}"
        return recorded, [finding("hand-marks-apart", marks=marks.words, apart=apart)]
    state: SyncState = "every-720" if marks.every_deg == CYCLE_DEG else "every-360"
    spread = float(np.std(off_deg)) / CYCLE_DEG
    sync = Sync(state, at_s, spread, by_hand=True)
    return sync, [finding("hand-mark", marks=marks.words, from_s=at_s[0], to_s=at_s[-1])]


def counted_from_marks(sync: Sync, times_s: Floats, count: Floats) -> Floats:
    """Shift the count of cycles so that marks by hand fall on whole (or half) cycles.

    They only shift it, and bend nothing: the current tells the pace better than an eye.
    """
    per_cycle = 2.0 if sync.state == "every-360" else 1.0
    counted = np.interp(sync.events_s, times_s, count)
    turned = np.exp(2j * np.pi * per_cycle * counted).mean()
    return count - float(np.angle(turned)) / (2 * np.pi * per_cycle)


def told_by_hand(findings: list[Finding], setup: AnalysisSetup, left_out: int) -> list[Finding]:
    """Return findings with all named that a person changed.

    Parameters
    ----------
    left_out
        How many engine cycles fell away by hand.
    """
    hand = setup.hand
    told = [_reworded(f, setup) for f in findings]
    if hand.span_s:
        from_s, to_s = hand.span_s
        stretch = say("{begin} s to {end} s", begin=f"{from_s:.2f}", end=f"{to_s:.2f}")
        told.append(finding("hand-span", from_s=from_s, to_s=to_s, stretch=stretch))
    if hand.left_out_s and left_out:
        count = say_count("{count} engine cycle was", "{count} engine cycles were", left_out)
        from_s, to_s = hand.left_out_s[0][0], hand.left_out_s[-1][1]
        told.append(finding("hand-left-out", from_s=from_s, to_s=to_s, count=count))
    elif hand.left_out_s:
        told.append(finding("hand-left-out-idle"))
    return told


def shift_finding(setup: AnalysisSetup, mark: CylinderMark | None) -> list[Finding]:
    """Say that labels were moved, or that there are none to move."""
    shift = setup.hand.shift % len(setup.firing_order)
    if not shift:
        return []
    if mark is None:
        return [finding("hand-shift-idle")]
    return [finding("hand-shift", places=places_words(setup.hand.shift))]


def _reworded(found: Finding, setup: AnalysisSetup) -> Finding:
    """Say of a stretch chosen by hand what would be said of the capture."""
    figures: dict[str, Any] = dict(found.seen.figures)
    # a stretch without any cranking says so itself, and counts no cycles
    if (
        found.code == "too-short"
        and "cycles" in figures
        and (setup.hand.span_s or setup.hand.left_out_s)
    ):
        by_hand = finding("hand-too-short", **figures)
        return replace(found, seen=by_hand.seen, to_do=by_hand.to_do)
    return found


def _off_deg(marks: ManualMarks, counted: Floats) -> Floats:
    """Return how far each mark stands from their common place in the cycle."""
    turns = CYCLE_DEG / marks.every_deg
    turned = np.exp(2j * np.pi * turns * counted)
    off = np.angle(turned / turned.mean()) / (2 * np.pi * turns)
    return np.asarray(CYCLE_DEG * off, dtype=np.float64)
