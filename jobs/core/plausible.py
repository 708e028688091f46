"""Readings that are asked back before they are recorded: typing slips and contradictions."""

from collections.abc import Mapping

from jobs.core.gauge import GaugeRule, gauge_read
from jobs.core.leakdown import SUSPECT_PERCENT
from jobs.core.pressure import as_typed, shown
from jobs.core.wet_test import MOST_OIL_SHARE, OIL_SHARE
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop

MOST_USUAL_KPA = {"diesel": 4500.0}
MOST_USUAL_PETROL_KPA = 2500.0
"""Above these no cranking compression test of a road engine reads (common practice: petrol
engines show 900 to 1500 kPa, diesels 2000 to 3500)."""

LEAST_LIVING_KPA = 30.0
"""A needle that moves at all shows more; a smaller figure is mostly one in another unit."""

LEAST_GOOD_KPA = {"diesel": 1200.0}
LEAST_GOOD_PETROL_KPA = 400.0
"""Below these nobody calls a cylinder good (common practice: the lowest limits of makers are 690
kPa for petrol and 2000 kPa for diesel engines)."""

LEAST_FIRST_PUFF_SHARE = 0.1
"""The first puff brings a third of the last or more, and something even in a leaking cylinder."""

LEAST_RUNNING_KPA = {"idle": 100.0, "snap": 150.0}
"""A good cylinder builds some 350 to 520 kPa at idle, and more on a snap (common practice)."""

LEAST_BAD_LEAK_PERCENT = 10.0
"""Up to here a leak-down is good (common practice), so that “bad” is mostly a slip."""

LEAST_LEAK_PERCENT = 1.0
"""Ring gaps alone pass more; a smaller figure is mostly a fraction, or a hose that is shut."""

FAR_APART_SHARE = 0.10
"""A gauge on one cylinder repeats within a few per cent (common practice)."""

FAR_APART_POINTS = 10.0
"""Percentage points of two leak-downs of one cylinder."""

SUPPLY_KPA = (80.0, 1400.0)
"""Testers are fed with 550 to 700 kPa, low-pressure ones with 100 (common practice)."""

OIL_ML = (1.5, 30.0)
SWEPT_ML = (100.0, 1500.0)
"""Of one cylinder: motorcycles to lorries; 5 ml of oil are usual for 500 ml."""

MOST_OIL_ML = 10.0
"""Without a swept volume: twice what is usual, and `MOST_OIL_SHARE` of 500 ml."""

_ASK = gettext_noop("Check the figure and the unit; confirm it if it is right.")


def usual_when_good(fuel: str) -> tuple[float, float]:
    """Return between which readings in kPa a good cylinder is believed without asking."""
    return (
        LEAST_GOOD_KPA.get(fuel, LEAST_GOOD_PETROL_KPA),
        MOST_USUAL_KPA.get(fuel, MOST_USUAL_PETROL_KPA),
    )


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
        return (
            _("{pressure} is more than such an engine builds. {ask}").format(
                pressure=as_typed(pressure_kpa, unit), ask=_(_ASK)
            ),
        )
    if 0 < pressure_kpa < LEAST_LIVING_KPA or (outcome == "good" and pressure_kpa == 0):
        return (
            _("{pressure} is next to nothing. {ask}").format(
                pressure=as_typed(pressure_kpa, unit), ask=_(_ASK)
            ),
        )
    if outcome == "good" and pressure_kpa < LEAST_GOOD_KPA.get(fuel, LEAST_GOOD_PETROL_KPA):
        return (
            _("{pressure} is little for a good cylinder. {ask}").format(
                pressure=as_typed(pressure_kpa, unit), ask=_(_ASK)
            ),
        )
    return ()


def doubts_about_first_puff(
    first_kpa: float | None, last_kpa: float | None, unit: str
) -> tuple[str, ...]:
    """Return why a first puff is likely a slip beside the last; empty where it is not."""
    if first_kpa is None or last_kpa is None or first_kpa >= LEAST_FIRST_PUFF_SHARE * last_kpa:
        return ()
    return (
        _(
            "A first puff of {pressure} is next to nothing beside {beside} after the last. {ask}"
        ).format(pressure=shown(first_kpa, unit), beside=shown(last_kpa, unit), ask=_(_ASK)),
    )


def doubts_about_leak(
    leak_percent: float | None,
    supply_kpa: float | None,
    *,
    outcome: str,
    unit: str,
    heard_at: str = "",
) -> tuple[str, ...]:
    """Return why a leak-down and its outcome contradict, or its supply is likely a slip.

    A bad one whose air was heard nowhere is asked about too: the place names the leak.
    """
    asked = []
    if leak_percent is not None and outcome == "good" and leak_percent > SUSPECT_PERCENT:
        asked.append(
            # a share, no directive; xgettext:no-python-format
            _("{leak_percent:g} % lost is recorded as good. {ask}").format(
                leak_percent=leak_percent, ask=_(_ASK)
            )
        )
    if leak_percent is not None and outcome == "bad" and leak_percent < LEAST_BAD_LEAK_PERCENT:
        asked.append(
            # a share, no directive; xgettext:no-python-format
            _("{leak_percent:g} % lost is recorded as bad. {ask}").format(
                leak_percent=leak_percent, ask=_(_ASK)
            )
        )
    is_lost = leak_percent is not None and leak_percent > SUSPECT_PERCENT
    if is_lost and outcome == "bad" and not heard_at:
        asked.append(
            # a share, no directive; xgettext:no-python-format
            _(
                "{leak_percent:g} % lost, and no place where the air escapes. Listen at intake, "
                "exhaust, oil filler, coolant and next cylinder; confirm if it was heard nowhere."
            ).format(leak_percent=leak_percent)
        )
    if leak_percent is not None and leak_percent < LEAST_LEAK_PERCENT:
        asked.append(
            _("No cylinder loses as little as {leak_percent:g} %. {ask}").format(
                leak_percent=leak_percent, ask=_(_ASK)
            )
        )
    least, most = SUPPLY_KPA
    if supply_kpa is not None and not least <= supply_kpa <= most:
        asked.append(
            _("No tester is fed with {pressure}. {ask}").format(
                pressure=shown(supply_kpa, unit), ask=_(_ASK)
            )
        )
    return tuple(asked)


def contradictions(
    dry_kpa: Mapping[int, float], outcomes: Mapping[int, str], rule: GaugeRule, unit: str
) -> dict[int, str]:
    """Return, by cylinder, why a dry reading cannot be good, or bad, beside the others.

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
    # one that misses the limits itself is asked about and is nothing to hold others against
    good = [c for c in dry_kpa if outcomes.get(c) == "good" and c not in read.failing]
    best = max(good, key=lambda c: dry_kpa[c], default=read.highest)
    inside = {
        cylinder: _(
            "Cylinder {cylinder} is recorded as bad with {pressure}, beside {beside} "
            "in cylinder {highest}: it keeps the limits of this job. Record it as "
            "good, or confirm."
        ).format(
            cylinder=cylinder,
            pressure=shown(dry_kpa[cylinder], unit),
            beside=shown(dry_kpa[best], unit),
            highest=best,
        )
        for cylinder in dry_kpa
        if good and outcomes.get(cylinder) == "bad" and cylinder not in read.failing
    }
    return inside | {
        cylinder: _(
            "Cylinder {cylinder} is recorded as good with {pressure}, beside {beside} "
            "in cylinder {highest}: it misses the limits of this job. Record it as "
            "bad, or confirm."
        ).format(
            cylinder=cylinder,
            pressure=shown(dry_kpa[cylinder], unit),
            beside=shown(top_kpa, unit),
            highest=read.highest,
        )
        for cylinder in read.failing
        if outcomes.get(cylinder) == "good"
    }


def doubts_about_wet_beside_dry(
    wet_kpa: float | None, dry_kpa: float | None, unit: str
) -> tuple[str, ...]:
    """Return why a wet reading is likely a slip beside the dry one; empty where it is not."""
    if wet_kpa is None or dry_kpa is None or wet_kpa >= dry_kpa:
        return ()
    return (
        _(
            "{pressure} with oil is less than {beside} without: oil never lowers a reading. {ask}"
        ).format(pressure=shown(wet_kpa, unit), beside=shown(dry_kpa, unit), ask=_(_ASK)),
    )


def doubts_about_second(
    first: Mapping[str, float | None], second: Mapping[str, float | None], *, cylinder: int
) -> tuple[str, ...]:
    """Return whether a second finding of a test and cylinder is far from the first.

    Parameters
    ----------
    first, second
        Figures by their names, `leak_percent` in per cent and the others in kPa.
    cylinder
        Whose they are.
    """
    for name, value in second.items():
        before = first.get(name)
        if value is None or before is None:
            continue
        apart = abs(value - before)
        is_far = (
            apart > FAR_APART_POINTS
            if name == "leak_percent"
            else apart > FAR_APART_SHARE * max(value, before)
        )
        if is_far:
            return (
                _(
                    "Cylinder {cylinder} has a finding of this test that is far from this "
                    "one. If this one replaces it, correct that one; confirm if both stand."
                ).format(cylinder=cylinder),
            )
    return ()


def doubts_about_running(
    idle_kpa: float | None,
    snap_kpa: float | None,
    *,
    fuel: str,
    unit: str,
    outcome: str = "",
) -> tuple[str, ...]:
    """Return why figures of a running compression test are likely a slip; empty where not."""
    most = MOST_USUAL_KPA.get(fuel, MOST_USUAL_PETROL_KPA)
    asked = [
        _("{pressure} is more than such an engine builds. {ask}").format(
            pressure=shown(value, unit), ask=_(_ASK)
        )
        for value in (idle_kpa, snap_kpa)
        if value is not None and value > most
    ]
    asked += [
        _("{pressure} is little for a good cylinder. {ask}").format(
            pressure=shown(value, unit), ask=_(_ASK)
        )
        for name, value in (("idle", idle_kpa), ("snap", snap_kpa))
        if outcome == "good" and value is not None and value < LEAST_RUNNING_KPA[name]
    ]
    if idle_kpa is not None and snap_kpa is not None and snap_kpa < idle_kpa:
        asked.append(
            _("A snap of the throttle fills the cylinder more than idle does. {ask}").format(
                ask=_(_ASK)
            )
        )
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
            _(
                "Oil can lock a diesel, and a manufacturer of diesels forbids it. "
                "Confirm it if this engine's manufacturer allows it; it is not read here."
            )
        )
    if is_flat:
        asked.append(
            _(
                "In a flat engine the oil does not reach the whole ring, so that this "
                "reading tells nothing. Confirm it if it is to be kept all the same."
            )
        )
    for name, value, (least, most) in (("oil", oil_ml, OIL_ML), ("swept", swept_ml, SWEPT_ML)):
        if value is not None and not least <= value <= most:
            what = _("of oil") if name == "oil" else _("swept by one cylinder")
            asked.append(
                _("{value:g} ml {what} is unusual. {ask}").format(
                    value=value, what=what, ask=_(_ASK)
                )
            )
    if oil_ml is not None and swept_ml is not None and oil_ml > MOST_OIL_SHARE * swept_ml:
        asked.append(
            _(
                "{oil_ml:g} ml is a lot for {swept_ml:g} ml: the oil lifts the reading "
                "by itself. About {enough_ml:.0f} ml is enough. Confirm it if so much "
                "was put in."
            ).format(oil_ml=oil_ml, swept_ml=swept_ml, enough_ml=OIL_SHARE * swept_ml)
        )
    if oil_ml is not None and swept_ml is None and MOST_OIL_ML < oil_ml <= OIL_ML[1]:
        asked.append(
            _(
                "{oil_ml:g} ml is a lot for most cylinders: the oil lifts the reading by itself. "
                "About 5 ml is enough for 500 ml. Write down the swept volume of the cylinder, "
                "or confirm it if so much was put in."
            ).format(oil_ml=oil_ml)
        )
    return tuple(asked)
