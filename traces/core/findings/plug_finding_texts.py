"""The sentences of findings about a plug that was taken out to name its cylinder."""

from traces.core.findings.findings import Severity

# code: (severity, message, remedy), as in `finding_texts`
PLUG_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "plug-open": (
        "note",
        "The plug of cylinder {opened} was entered as out, and the {place} compression in firing "
        "sequence drops out ({share} %). Cylinder {opened} is called open and nothing else: this "
        "capture says nothing of its own compression.",
        "Refit the plug and crank again to compare all cylinders. A cylinder that is dead by "
        "itself drops out just the same: make sure that this plug was the one out.",
    ),
    "plug-open-unclear": (
        "warn",
        "The plug of cylinder {opened} was entered as out, but {why}, so it does not name the "
        "other cylinders.",
        "Take the plug of another cylinder out, one that is known to be good, and crank again; or "
        "use ignition as the sync.",
    ),
    "plug-not-open": (
        "stop",
        "The plug of cylinder {opened} was entered as out, but no compression drops out: {why}.",
        "Make sure that the plug was out in this capture, and record again. If none was, leave "
        "that field empty and analyse again.",
    ),
    "plug-mismatch": (
        "stop",
        "The plug of cylinder {opened} was entered as out, but the compression that drops out is "
        "that of cylinder {found} by {source}.",
        "Check which plug was out, the cylinder and angle entered for the sync, and the firing "
        "order with its angles; correct what is wrong and analyse again.",
    ),
}

PLUG_AIDS: dict[tuple[str, Severity], tuple[str, str]] = {
    ("plug-open", "note"): (
        "With its plug out a cylinder builds next to no pressure, so the crank passes it nearly "
        "without resistance and its compression is missing from the curve.",
        "The missing one is the opened cylinder's; the firing order numbers all others from there.",
    ),
    ("plug-open-unclear", "warn"): (
        "The open cylinder's compression is missing, but it is not the only one that may be, or "
        "the firing angles can be laid over the curve in more than one way.",
        "The figures hold, but the row of cylinders can begin in more than one way.",
    ),
    ("plug-not-open", "stop"): (
        "With its plug out a cylinder builds next to no pressure, so one compression would be "
        "missing from the curve.",
        "What was entered and what was recorded contradict each other, so nothing is judged.",
    ),
    ("plug-mismatch", "stop"): (
        "The sync, or the firing angles, number the compressions, and so does the plug that was "
        "out; here the two do not agree.",
        "A wrong number would send somebody to the wrong cylinder, so nothing is judged.",
    ),
}
"""What each is in the curve, and what it does to the judgement, as in `reading_aid_texts`."""
