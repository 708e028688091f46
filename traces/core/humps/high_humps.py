"""Cylinders that stand higher than the sound ones: which they are, and what it can mean."""

from collections.abc import Sequence

from engines.core.firing import CYCLE_DEG, FiringOrder
from shopdiag.people.core.words import Text
from traces.core.findings import Finding, finding, place_words
from traces.core.report import Estimate, high_places

_APART_DEG = 1.0


def high_findings(estimates: Sequence[Estimate], order: FiringOrder) -> list[Finding]:
    """Name what stands high, and what can do that.

    Parameters
    ----------
    order
        Firing order from the first estimate on.

    Notes
    -----
    Where the exhaust valve of a cylinder stays shut, its gas is compressed once more a turn
    later, on top of the compression of its companion 360 degrees away: the companion reads
    high and the faulty cylinder sound. Two companions that are both high are held back once in
    every turn, as by a ring gear that binds.
    """
    high = high_places(estimates)
    found = []
    for place in high:
        companion = _companion_of(place, order)
        if companion is not None and companion in high:
            if place < companion:
                found.append(_pair_finding(estimates[place], estimates[companion]))
            continue
        share = f"{100 * (estimates[place].relative - 1):.0f}"
        if companion is not None and estimates[companion].call == "sound":
            beside = _named(estimates[companion])
            found.append(
                finding("high-hump", high=_named(estimates[place]), share=share, companion=beside)
            )
        else:
            found.append(finding("high-hump-alone", high=_named(estimates[place]), share=share))
    return found


def _pair_finding(one: Estimate, other: Estimate) -> Finding:
    share = f"{100 * (min(one.relative, other.relative) - 1):.0f}"
    return finding("high-hump-pair", high=_named(one), other=_named(other), share=share)


def _companion_of(place: int, order: FiringOrder) -> int | None:
    """Return the place that fires one crank turn after another; None where none does."""
    angles = order.tdc_angles_deg
    wanted = (angles[place] + CYCLE_DEG / 2) % CYCLE_DEG
    for i, angle in enumerate(angles):
        apart = abs(angle - wanted)
        if min(apart, CYCLE_DEG - apart) <= _APART_DEG:
            return i
    return None


def _named(estimate: Estimate) -> Text:
    return place_words(estimate.cylinder, estimate.position)
