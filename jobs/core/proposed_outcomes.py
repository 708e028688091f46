"""Outcomes proposed from figures, for a person to see before they are recorded."""

from collections.abc import Collection, Mapping

from jobs.core.gauge import GaugeRule, gauge_read
from jobs.core.plausible import usual_when_good

GOOD_LEAK_PERCENT = 10.0
BAD_LEAK_PERCENT = 30.0
"""Bands of common practice for cars (`jobs.core.leakdown`); between them nothing is proposed."""

MOST_LEAK_PERCENT = 100.0
"""Nothing loses more than all; a larger figure is a slip, and nothing is proposed for it."""


def proposed_by_limit(
    dry_kpa: Mapping[int, float], engine: Collection[int], rule: GaugeRule, fuel: str
) -> dict[int, str]:
    """Return what the job's limits say of dry readings; nothing where they say nothing yet.

    A cylinder that misses a limit is bad whatever the others show. One that keeps it is good only
    once every cylinder is measured, because a higher reading may still come. A reading that no
    such engine builds is a slip: nothing is proposed for it, and no other is held against it.

    Parameters
    ----------
    dry_kpa
        Readings in kPa by cylinder.
    engine
        Every cylinder that a reading is still awaited from, or has one.
    fuel
        Of the engine: what no such engine builds is never proposed as good.
    """
    least, most = usual_when_good(fuel)
    believed = {cylinder: value for cylinder, value in dry_kpa.items() if value <= most}
    if not believed:
        return {}
    failing = gauge_read(believed, rule).failing
    is_complete = len(believed) > 1 and set(engine) <= set(believed)
    proposed = dict.fromkeys(failing, "bad")
    for cylinder, value in believed.items():
        if is_complete and cylinder not in proposed and value >= least:
            proposed[cylinder] = "good"
    return proposed


def proposed_by_leak(leak_percent: Mapping[int, float]) -> dict[int, str]:
    """Return what leak-downs are by common practice; nothing for those between good and bad."""
    return {
        cylinder: "good" if value <= GOOD_LEAK_PERCENT else "bad"
        for cylinder, value in leak_percent.items()
        if value <= GOOD_LEAK_PERCENT or BAD_LEAK_PERCENT < value <= MOST_LEAK_PERCENT
    }
