"""What each pattern usually means, what would rule it out, and where that comes from."""

from dataclasses import dataclass

from jobs.core.patterns import Pattern


@dataclass(frozen=True, slots=True)
class PatternMeaning:
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
_MAKERS = "vehicle manufacturers' service texts, as an example"

MEANINGS: dict[Pattern, PatternMeaning] = {
    Pattern.HIGH: PatternMeaning(
        "One cylinder high",
        "Liquid in the cylinder or heavy carbon. Or an exhaust valve does not open in its 360° "
        "companion, where it has one: that gas is compressed again on top of this one. Stop: "
        "cranking on can bend a rod.",
        "A dry cylinder with a clean crown, a gauge reading like the others', and full lift of the "
        "exhaust valves of its 360° companion.",
        COMMON,
    ),
    Pattern.HIGH_COMPANIONS: PatternMeaning(
        "Two cylinders high, 360 degrees apart",
        "Something binds once in every crank turn: ring gear, flywheel or an accessory. Liquid in "
        "both cylinders is less likely, but look before cranking on.",
        "An engine that bars over freely by hand through two turns.",
        COMMON,
    ),
    Pattern.OPEN: PatternMeaning(
        "Not settled which cylinder",
        "The sync leaves more than one set of cylinders open. A compression test on all of them "
        "says which one it is.",
        "A second sync source, or one opened cylinder whose hump drops out, that decides for "
        "another set.",
        COMMON,
    ),
    Pattern.COMPANIONS: PatternMeaning(
        "Two cylinders 360 degrees apart",
        "Both are low: a sync on the wrong turn maps this pair onto itself. On a four a drag once "
        "a turn (starter, ring gear) raises the other pair, and this one then looks low.",
        "A compression test inside the limits on both; on a four, an engine that binds once in "
        "every turn when barred over.",
        COMMON,
    ),
    Pattern.ALL: PatternMeaning(
        "All cylinders low",
        "Valve timing, fuel-washed bores or wear. Do not crank on until the valve timing is known. "
        "A relative test cannot see it; only a gauge can.",
        "A compression test inside the manufacturer's limits on every cylinder.",
        "a trade text on relative compression: equal loss everywhere is invisible",
    ),
    Pattern.BANK: PatternMeaning(
        "A whole bank",
        "Usually that bank's cam timing or its phaser. Do not crank on until the valve timing is "
        "known.",
        "Cam against crank right on that bank, or a compression test that finds single cylinders "
        "of it good.",
        COMMON,
    ),
    Pattern.SAME_BANK: PatternMeaning(
        "Several on the same bank",
        "What this bank shares: its valve gear, cam, lifters, their oil feed, its timing. After "
        "that wear and fuel-washed bores.",
        "Full lift and clearance of its valves with the cam timed right, or a low cylinder on the "
        "other bank.",
        COMMON,
    ),
    Pattern.BANK_UNEVEN: PatternMeaning(
        "One bank weaker as a whole",
        "Cam timing of one of the two banks: this one is late or the other is early. An early cam "
        "raises cranking compression and a late one lowers it, so the weaker bank may be the good "
        "one.",
        "A compression test that finds one cylinder of each bank alike, or both at the "
        "manufacturer's figure.",
        COMMON,
    ),
    Pattern.ADJACENT: PatternMeaning(
        "Two neighbours on one bank",
        "Usually the head gasket between them.",
        "A leak-down on each without air in the other's plug hole, or a wet test that lifts one "
        "of them well over the control cylinder.",
        _MAKERS,
    ),
    Pattern.SEVERAL: PatternMeaning(
        "Several cylinders",
        "Wear, valves held open or fuel-washed bores; compare all cylinders in a compression test.",
        "A compression test that finds fewer of them low: then the capture took the others with "
        "it.",
        COMMON,
    ),
    Pattern.ONE: PatternMeaning(
        "One low cylinder",
        "Valve, rings, valve lifter or piston.",
        "A compression test and a leak-down inside the limits on that cylinder. Then measure its "
        "360° companion, where it has one: the sync may have been on the wrong turn.",
        COMMON,
    ),
    Pattern.LOW_AT_FIRST: PatternMeaning(
        "Low at first, then well",
        "A lifter that bled down, carbon on a seat, or a dry bore that its own oil seals again.",
        "A repeat at once after the first that is low at first again: then it is no bleed-down; "
        "a mean over all cycles that stays low: then it is a leak.",
        "a trade forum's case: oil lifted the two 70 psi cylinders of a dry-bore engine to 90 "
        "and 130",
    ),
    Pattern.COMES_AND_GOES: PatternMeaning(
        "Comes and goes",
        "A valve that sticks now and then, or a weak valve spring.",
        "Repeats cold and hot that are steady: then look at clamp, battery and what was switched "
        "on, cycle by cycle.",
        "a trade article on intermittent misfires",
    ),
    Pattern.FAST_EVEN: PatternMeaning(
        "Even, and fast: a hint that all are low",
        "Valve timing, fuel-washed bores or wear in every cylinder: the starter then has less to "
        "do on all of them alike. Do not crank on until the valve timing is known. A relative test "
        "cannot see it; a gauge is needed.",
        "A compression test inside the manufacturer's limits on every cylinder.",
        "a trade text on relative compression: equal loss everywhere is invisible",
    ),
    Pattern.EVEN_MISFIRES: PatternMeaning(
        "Even, but it misfires",
        "Ignition, fuel, or breathing (a worn cam lobe, a blocked port or exhaust): it cranks "
        "evenly all the same.",
        "A compression test or leak-down that misses the limits, or single cycles in which a "
        "cylinder falls away.",
        "a trade text on running compression",
    ),
    Pattern.NONE: PatternMeaning(
        "No low cylinder",
        "The cylinders lose alike or not at all; wear that is equal in all of them stays unseen.",
        "A cylinder that misses the gauge limits.",
        COMMON,
    ),
}
