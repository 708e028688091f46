"""What the first puff of a gauge says beside the last: how the pressure builds."""

from collections.abc import Collection, Mapping
from enum import StrEnum
from statistics import median

from shopdiag.people.core.words import gettext_noop

_LOW_FIRST = 0.75
_BUILDS = 0.9
_STAYS = 0.5
"""Bounds beside the engine's good cylinders (common practice: makers give words, no figures)."""

SOURCE = gettext_noop("a manufacturer's service text, as an example")


class Puff(StrEnum):
    """What the way a low reading builds points at."""

    RINGS = "rings"
    VALVES = "valves"


PUFF_WORDS: dict[Puff, str] = {
    Puff.RINGS: gettext_noop("begins low and builds, but not to normal: rings"),
    Puff.VALVES: gettext_noop("begins low and does not build: valves or head gasket"),
}


def puff_read(
    first_kpa: Mapping[int, float], last_kpa: Mapping[int, float], low: Collection[int]
) -> dict[int, Puff]:
    """Say how low cylinders build beside the good ones of the same engine.

    Parameters
    ----------
    first_kpa, last_kpa
        Dry gauge readings after the first and the last stroke, in kPa by cylinder.
    low
        Cylinders that are low; all others with both readings are the good ones.

    Returns
    -------
    dict
        Cylinder to meaning; those that neither begin low nor stand clearly on one side, and all
        where no good cylinder has both readings, are left out.
    """
    both = [c for c in set(first_kpa) & set(last_kpa) if first_kpa[c] > 0]
    good = [c for c in both if c not in low]
    if not good:
        return {}
    usual_first_kpa = median(first_kpa[c] for c in good)
    usual_growth = median(last_kpa[c] / first_kpa[c] for c in good)
    found: dict[int, Puff] = {}
    for cylinder in sorted(c for c in both if c in low):
        growth = last_kpa[cylinder] / first_kpa[cylinder]
        if first_kpa[cylinder] > _LOW_FIRST * usual_first_kpa:
            continue
        if growth >= _BUILDS * usual_growth:
            found[cylinder] = Puff.RINGS
        elif growth - 1 <= _STAYS * (usual_growth - 1):
            found[cylinder] = Puff.VALVES
    return found
