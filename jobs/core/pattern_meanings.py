"""What each pattern usually means, what would disprove it, and where that comes from."""

from dataclasses import dataclass

from jobs.core.patterns import Pattern


@dataclass(frozen=True, slots=True)
class Meaning:
    """The usual reading of a pattern, in words.

    Parameters
    ----------
    name
        The pattern.
    reading
        What it usually is.
    disproof
        What would show that it is something else.
    source
        Where the reading comes from.
    """

    name: str
    reading: str
    disproof: str
    source: str


COMMON = "common practice"
_MAKERS = "vehicle makers' service texts, as an example"

MEANINGS: dict[Pattern, Meaning] = {
    Pattern.HIGH: Meaning(
        "One cylinder high",
        "Liquid in the cylinder or heavy carbon, or an exhaust valve that does not open in the "
        "cylinder 360 degrees away: its gas is compressed again on top of this one. Stop: cranking "
        "on can bend a rod.",
        "A dry cylinder with a clean crown behind the plug hole, a gauge reading like the "
        "others', and full lift of the exhaust valves of the cylinder 360 degrees away.",
        COMMON,
    ),
    Pattern.HIGH_COMPANIONS: Meaning(
        "Two cylinders high, 360 degrees apart",
        "Something that binds once in every crank turn: ring gear, flywheel or an accessory. "
        "Liquid in both cylinders is less likely, but look before cranking on.",
        "An engine that turns freely by hand over two turns.",
        COMMON,
    ),
    Pattern.OPEN: Meaning(
        "Not settled which cylinder",
        "The sync leaves more than one set of cylinders open; the gauge on all of them says "
        "which one it is.",
        "A second sync source, or one opened cylinder whose hump vanishes, that decides for "
        "another set.",
        COMMON,
    ),
    Pattern.COMPANIONS: Meaning(
        "Two cylinders 360 degrees apart",
        "Check the sync again first: a bind once in every turn (starter, ring gear) or a sync "
        "event on the wrong turn looks the same.",
        "A gauge that finds both low, with an engine that turns freely by hand: then they are.",
        COMMON,
    ),
    Pattern.ALL: Meaning(
        "All cylinders low",
        "Belt or chain timing, fuel-washed bores or wear. A relative test cannot see it; only an "
        "absolute gauge can.",
        "An absolute gauge inside the maker's limits on every cylinder.",
        "a trade text on relative compression: equal loss everywhere is invisible",
    ),
    Pattern.BANK: Meaning(
        "A whole bank",
        "Usually that bank's cam timing or its phaser.",
        "Timing marks that stand right on that bank, or a gauge that finds single cylinders of "
        "it sound.",
        COMMON,
    ),
    Pattern.BANK_UNEVEN: Meaning(
        "One bank weaker as a whole",
        "Cam timing of one of the two banks: this one is late or the other is early. An early cam "
        "raises cranking compression and a late one lowers it, so the weaker bank may be the good "
        "one.",
        "A gauge that finds one cylinder of each bank alike, or both at the manufacturer's figure.",
        COMMON,
    ),
    Pattern.ADJACENT: Meaning(
        "Two neighbours on one bank",
        "Usually the head gasket between them.",
        "A leak-down on each without air in the other's plug hole, or a wet test that lifts one "
        "of them.",
        _MAKERS,
    ),
    Pattern.SEVERAL: Meaning(
        "Several cylinders",
        "Wear, valves held open or fuel-washed bores; compare all cylinders on the gauge.",
        "A gauge that finds fewer of them low: then the capture took the others with it.",
        COMMON,
    ),
    Pattern.ONE: Meaning(
        "One low cylinder",
        "Valve, rings, valve lifter or piston.",
        "A gauge and a leak-down inside the limits on that cylinder.",
        COMMON,
    ),
    Pattern.LOW_AT_FIRST: Meaning(
        "Low at first, then well",
        "A lifter that bled down, carbon on a seat, or a dry bore that its own oil seals again.",
        "A repeat at once after the first that is low at first again: then it is no bleed-down; "
        "a mean over all cycles that stays low: then it is a leak.",
        "a trade forum's case: oil lifted the two 70 psi cylinders of a dry-bore engine to 90 "
        "and 130",
    ),
    Pattern.COMES_AND_GOES: Meaning(
        "Comes and goes",
        "A valve that sticks now and then, or a weak valve spring.",
        "Repeats cold and hot that are steady: then look at clamp, battery and what was switched "
        "on, cycle by cycle.",
        "a trade article on intermittent misfires",
    ),
    Pattern.FAST_EVEN: Meaning(
        "Even, and fast: a hint that all are low",
        "Belt or chain timing, fuel-washed bores or wear in every cylinder: the starter then has "
        "less to do on all of them alike. A relative test cannot see it; a gauge is needed.",
        "An absolute gauge inside the maker's limits on every cylinder.",
        "a trade text on relative compression: equal loss everywhere is invisible",
    ),
    Pattern.EVEN_MISFIRES: Meaning(
        "Even, but it misfires",
        "Ignition, fuel, or breathing (a worn cam lobe, a blocked port): it cranks evenly all the "
        "same.",
        "A gauge or leak-down that misses the limits, or single cycles in which a cylinder falls "
        "away.",
        "a trade text on running compression",
    ),
    Pattern.NONE: Meaning(
        "No low cylinder",
        "The cylinders lose alike or not at all; wear that is equal in all of them stays unseen.",
        "A cylinder that misses the gauge limits.",
        COMMON,
    ),
}
