"""Readings that are asked back before they are recorded: typing slips and contradictions."""

from collections.abc import Mapping

from jobs.core.gauge import GaugeRule, gauge_read
from jobs.core.pressure import shown
from jobs.core.wet_test import MOST_OIL_SHARE, OIL_SHARE

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


def doubts_about_running(
    idle_kpa: float | None, snap_kpa: float | None, *, fuel: str, unit: str
) -> tuple[str, ...]:
    """Return why figures of a running compression test are likely a slip; empty where not."""
    most = MOST_USUAL_KPA.get(fuel, MOST_USUAL_PETROL_KPA)
    asked = [
        f"{shown(value, unit)} is more than such an engine builds. {_ASK}"
        for value in (idle_kpa, snap_kpa)
        if value is not None and value > most
    ]
    if idle_kpa is not None and snap_kpa is not None and snap_kpa < idle_kpa:
        asked.append(f"A snap of the throttle fills the cylinder more than idle does. {_ASK}")
    return tuple(asked)


def doubts_about_wet(
    oil_ml: float | None, swept_ml: float | None, *, fuel: str, is_flat: bool
) -> tuple[str, ...]:
    """Return why a wet test may harm or tell nothing here; empty where it may be recorded.

    Sources: a maker of diesels forbids oil, because it does not compress; in flat engines oil
    does not reach the whole ring (makers' service texts, as examples).
    """
    asked = []
    if fuel == "diesel":
        asked.append(
            "Oil can lock a diesel, and a manufacturer of diesels forbids it. Confirm it if this "
            "engine's manufacturer allows it; it is not read here."
        )
    if is_flat:
        asked.append(
            "In a flat engine the oil does not reach the whole ring, so that this reading tells "
            "nothing. Confirm it if it is to be kept all the same."
        )
    if oil_ml is not None and swept_ml is not None and oil_ml > MOST_OIL_SHARE * swept_ml:
        asked.append(
            f"{oil_ml:g} ml is a lot for {swept_ml:g} ml: the oil lifts the reading by itself. "
            f"About {OIL_SHARE * swept_ml:.0f} ml is enough. Confirm it if so much was put in."
        )
    return tuple(asked)
