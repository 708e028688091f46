"""How cylinders were told from each other, in one sentence for the result and the work order."""

from shopdiag.people.core.words import Text, say, say_count
from traces.core.crank import CylinderMark
from traces.core.preparation import Prepared
from traces.core.setup import MarkedEvent, places_words


def sync_note(prepared: Prepared, labelings: int) -> Text:
    """Return how sync tied humps to cylinders; `labelings` is how many sets of numbers fit."""
    note, shift = _identified(prepared, is_one=labelings == 1), prepared.setup.hand.shift
    if prepared.mark is None or not shift % len(prepared.order):
        return note
    return say("{note} Labels moved {places} by hand.", note=note, places=places_words(shift))


def _identified(prepared: Prepared, *, is_one: bool) -> Text:
    """Return how cylinders were told, before any hand moved their labels."""
    sync, mark, order = prepared.sync, prepared.mark, prepared.setup.firing_order
    if mark is None and is_one:
        return say(
            "Cylinder numbers rest on the uneven firing angles alone, and on the firing order "
            "{order} as entered: no event names a cylinder.",
            order=order,
        )
    if mark is None and sync.keeps_to_cycle:
        return say(
            "{count} sync events count the engine cycles; no cylinder is named, because their "
            "angle to top dead centre is not known.",
            count=sync.events_s.size,
        )
    if mark is None:
        return say("No sync: positions count from the first hump judged.")
    events = _events_words(sync.events_s.size, mark)
    if not is_one and sync.places > 1:
        return say(
            "{events}, {places} times an engine cycle; no cylinder is named, because the angle "
            "entered fits more than one of them.",
            events=events,
            places=sync.places,
        )
    if not is_one:
        return say("{events}, every 360 degrees: each marks one of two cylinders.", events=events)
    if not mark.by_hand:
        events = say("{events} on channel {channel}", events=events, channel=mark.channel)
    return say(
        "Cylinder numbers rest on {events}, {angle}, and on the firing order {order} as entered.",
        events=events,
        angle=_angle_words(prepared, mark),
        order=order,
    )


def _events_words(count: int, mark: CylinderMark) -> Text:
    figures = {"event": _EVENTS[mark.event], "cylinder": mark.cylinder}
    if mark.by_hand:
        return say_count(
            "{count} {event} event of cylinder {cylinder} marked by hand",
            "{count} {event} events of cylinder {cylinder} marked by hand",
            count,
            **figures,
        )
    return say_count(
        "{count} {event} event of cylinder {cylinder}",
        "{count} {event} events of cylinder {cylinder}",
        count,
        **figures,
    )


_EVENTS: dict[MarkedEvent, Text] = {
    "ignition": say("ignition"),
    "injector": say("injector"),
    "cam": say("cam"),
    "tdc": say("tdc"),
}


def _angle_words(prepared: Prepared, mark: CylinderMark) -> Text:
    """Return where the event is taken to stand, and how that is known."""
    if mark.angle_deg is not None:
        recorded = prepared.setup.sync
        kept = recorded is not None and recorded.angle_from == "kept"
        return _ANGLES[kept, mark.angle_deg < 0].filled(angle=f"{abs(mark.angle_deg):.0f}")
    if mark.event == "tdc":
        return say("taken as its firing top dead centre")
    return say("taken as close to its firing top dead centre")


_ANGLES = {
    (True, True): say("kept with this engine as {angle} degrees before its firing top dead centre"),
    (True, False): say("kept with this engine as {angle} degrees after its firing top dead centre"),
    (False, True): say("entered as {angle} degrees before its firing top dead centre"),
    (False, False): say("entered as {angle} degrees after its firing top dead centre"),
}
"""Where an event stands: kept or entered, before or after."""
