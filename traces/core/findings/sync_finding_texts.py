"""The sentences of findings about sync events."""

from traces.core.findings.findings import Severity

BAR_OVER = (
    "bar the engine over two turns by hand in its direction of rotation and stop at any contact; "
    "the manufacturer's procedure comes first."
)
"""What to do before another crank where the valve timing is in doubt (common practice)."""

# code: (severity, message, remedy), as in `finding_texts`
SYNC_TEXTS: dict[str, tuple[Severity, str, str]] = {
    "sync-missing": (
        "warn",
        "The sync channel holds no usable events, so cylinders cannot be named.",
        "Check the pick-up and its channel; the sets of cylinders that fit are listed.",
    ),
    "sync-lone": (
        "warn",
        "Only one event stands out on the sync channel, at {at}; it could be a disturbance, so it "
        "names no cylinder.",
        "Check the pick-up and its lead and record again; or, if you are sure of that event, mark "
        "it by hand. The sets of cylinders that fit are listed.",
    ),
    "sync-ends": (
        "warn",
        "The {count} sync events end at {at}, long before the cranking does; from there on the "
        "cylinders are counted by the humps alone.",
        "Check that the pick-up stayed in place, and record again with events to the end.",
    ),
    "cam-edge-unsure": (
        "warn",
        "The cam signal is high {high} % of the time. Near two thirds, another recording may count "
        "the other of its edges, which stands elsewhere in the cycle.",
        "Check in the curve which edge is marked, and use an angle only for the edge it was "
        "measured or stated for.",
    ),
    "sync-paired-first": (
        "note",
        "Sync events came every 360 degrees until {at} and every 720 after it, as single coils "
        "fire in pairs until the cam is recognised. The later ones name the cylinder.",
        "Nothing to do.",
    ),
    "sync-doubled": (
        "stop",
        "Sync events come twice as often as set up: every 360 degrees of the cycle that the humps "
        "show. Either the setting or the number of cylinders is wrong, or every other compression "
        "is missing, as with a dead bank.",
        "If the event is known to come every turn, set it to every 360 degrees and analyse again; "
        "check the number of cylinders too. If neither is wrong, do not crank again until the "
        "valve timing is known to be right: " + BAR_OVER,
    ),
    "sync-perhaps-single": (
        "warn",
        "Sync events came every 360 degrees until {at}; then one did not come, as when single "
        "coils stop firing in pairs. One alone does not tell, so they mark two cylinders and "
        "cannot tell which is which.",
        "Crank a second or two longer and record again. If the events then come every 360 degrees "
        "throughout, set them up so, or do not crank again until the valve timing is known to be "
        "right: " + BAR_OVER,
    ),
    "sync-none": (
        "note",
        "No sync was recorded, so cylinders cannot be named.",
        "Record a sync event of one cylinder. Or take one easy plug out with fuel and ignition "
        "both off, crank again and enter its cylinder: that compression drops out.",
    ),
    "sync-every-360": (
        "warn",
        "Sync events come every 360 degrees: they mark two cylinders and cannot tell which is "
        "which.",
        "Take the plug of one of the two cylinders out with fuel and ignition both off, crank "
        "again and enter its cylinder: that compression drops out. A cam edge or injector helps "
        "only where its angle to top dead centre is known.",
    ),
    "sync-angle-unknown": (
        "warn",
        "The {what} counts engine cycles, but its angle to top dead centre is not known, so it "
        "names no cylinder.{several}",
        "Enter the angle, or learn it beside an ignition event of a known cylinder. Or use "
        "ignition as the sync. Or take one plug out with fuel and ignition both off, crank again "
        "and enter its cylinder: that compression drops out and the angle is measured beside it.",
    ),
    "sync-edge-unclear": (
        "warn",
        "The cam edge comes {places} times an engine cycle, and the angle entered may be that of "
        "more than one of them, so it names no cylinder.",
        "Measure the angle beside an ignition event of a known cylinder and keep it with the "
        "engine: then it is that of the first edge after the longest pause. Or use ignition as "
        "the sync, or take one plug out with fuel and ignition both off, crank again and enter its "
        "cylinder: that compression drops out.",
    ),
}
