"""Readings that are asked back before they are recorded: typing slips and contradictions."""

from collections.abc import Mapping

from jobs.core.gauge import GaugeRule, gauge_read
from jobs.core.pressure import shown

MOST_USUAL_KPA = {"diesel": 4500.0}
MOST_USUAL_PETROL_KPA = 2500.0
"""Above these no cranking compression test of a road engine reads (common practice: petrol
engines show 900 to 1500 kPa, diesels 2000 to 3500)."""

LEAST_LIVING_KPA = 30.0
"""A needle that moves at all shows more; a smaller figure is mostly one in another unit."""

_ASK = "Check the figure and the unit; confirm it if it is right."


def doubts_about_pressure(
    pressure_kpa: float, *, outcome: str, fuel: str, unit: str
) -> tuple[str, ...]:
    """Return why a gauge reading is likely a slip; empty where it is not.

    Parameters
    ----------
    pressure_kpa
        As read after the last puff.
    outcome
        `good`, `bad`, `ambiguous` or `not_done`.
    fuel
        Of the engine; petrol where it is not known.
    unit
        Unit of the sentences.
    """
    most = MOST_USUAL_KPA.get(fuel, MOST_USUAL_PETROL_KPA)
    if pressure_kpa > most:
        return (f"{shown(pressure_kpa, unit)} is more than such an engine builds. {_ASK}",)
    if 0 < pressure_kpa < LEAST_LIVING_KPA or (outcome == "good" and pressure_kpa == 0):
        return (f"{shown(pressure_kpa, unit)} is next to nothing. {_ASK}",)
    return ()


def contradictions(
    dry_kpa: Mapping[int, float], outcomes: Mapping[int, str], rule: GaugeRule, unit: str
) -> dict[int, str]:
    """Return, by cylinder, why a dry reading recorded as good cannot be.

    Parameters
    ----------
    dry_kpa
        Dry readings that stand, the new one with them.
    outcomes
        What was recorded of each.
    rule
        The job's limits.
    """
    if not dry_kpa:
        return {}
    read = gauge_read(dry_kpa, rule, unit)
    top_kpa = dry_kpa[read.highest]
    return {
        cylinder: f"Cylinder {cylinder} is recorded as good with "
        f"{shown(dry_kpa[cylinder], unit)}, beside {shown(top_kpa, unit)} in cylinder "
        f"{read.highest}: it misses the limits of this job. Record it as bad, or confirm."
        for cylinder in read.failing
        if outcomes.get(cylinder) == "good"
    }
