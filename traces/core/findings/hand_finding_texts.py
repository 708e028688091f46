"""The sentences of findings about what a person changed by hand."""

from traces.core.findings.findings import Severity

# code: (severity, message, remedy), as in `finding_texts`
HAND_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "hand-shift": (
        "warn",
        "The labels were moved {places} of the firing order by hand: cylinders are named by that, "
        "not by the events alone.",
        "Make sure of one cylinder before any work: open an easy one and see which hump drops out.",
    ),
    "hand-shift-idle": (
        "note",
        "Labels were to be moved by hand, but nothing ties them to cylinders here.",
        "Mark an event of a known cylinder instead.",
    ),
    "hand-mark": (
        "warn",
        "Labelled by hand: the {marks} was marked by a person, and that decides which cylinder is "
        "which, not a recorded signal.",
        "Make sure of one cylinder before any work: record a sync, or open an easy one and see "
        "which hump drops out.",
    ),
    "hand-mark-unused": (
        "note",
        "The mark by hand ({marks}) is not used: the recorded sync says as much or more.",
        "Take the mark away, or analyse without the sync if that is known to be wrong.",
    ),
    "hand-mark-outside": (
        "warn",
        "The mark by hand ({marks}) lies outside of the cranking that is judged, so it says "
        "nothing.",
        "Mark an event after the inrush, within the stretch judged.",
    ),
    "hand-marks-apart": (
        "stop",
        "The events marked by hand ({marks}) stand at different places of the engine's cycle, "
        "{apart} degrees apart.",
        "Keep the one that is certain; one mark is enough.",
    ),
    "hand-mismatch": (
        "stop",
        "The event marked by hand does not fit the engine: {why}.",
        "Mark it nearer to the compression of its cylinder, or take the mark away.",
    ),
    "hand-span": (
        "note",
        "Only {stretch} was judged, chosen by hand.",
        "Nothing to do; starter and battery figures are those of the whole crank.",
    ),
    "hand-span-empty": (
        "stop",
        "The stretch chosen by hand holds no cranking after the inrush.",
        "Choose a stretch within the cranking, or judge all of the crank.",
    ),
    "hand-left-out": (
        "warn",
        "{count} left out by hand: the figures say nothing of what happened there.",
        "Look at what was left out as well; a fault that comes and goes shows in single cycles.",
    ),
    "hand-left-out-idle": (
        "note",
        "None of the stretches left out by hand holds a whole engine cycle that would be judged.",
        "Nothing to do.",
    ),
}
