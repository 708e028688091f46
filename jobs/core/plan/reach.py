"""What reaching the plugs of a test takes: bank by bank, the deepest plug of each."""

from collections.abc import Collection, Mapping

from jobs.core.plan.knowledge import PlanTest


def banks_of(
    test: PlanTest,
    named: Collection[int],
    access_minutes: Mapping[int, int],
    banks: Mapping[int, int],
) -> set[int]:
    """Return the banks whose plugs a test needs reached; 0 where there is one row.

    Parameters
    ----------
    named
        Cylinders that the test is about; where there are none, the plug that is easiest to reach
        counts for them.
    access_minutes, banks
        By cylinder.
    """
    if not test.reach:
        return set()
    if test.reach == "named" and not named:
        easiest = sorted(access_minutes, key=lambda c: access_minutes[c])[:1]
        return {banks.get(c, 0) for c in easiest}
    is_of_named = test.reach == "named" or (test.reach == "one" and len(named) == 1)
    asked = named if is_of_named else access_minutes
    return {banks.get(c, 0) for c in asked}


def reach_minutes(
    reached: Collection[int], access_minutes: Mapping[int, int], banks: Mapping[int, int]
) -> float:
    """Return what reaching the plugs of some banks takes."""
    return sum(
        max((m for c, m in access_minutes.items() if banks.get(c, 0) == bank), default=0)
        for bank in reached
    )
