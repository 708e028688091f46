"""Whether a fitted cycle runs forwards: read from its end, or upside down, it fits worse."""

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.crank import direction_of
from traces.core.findings import Finding, finding
from traces.core.preparation import Measured, Prepared
from traces.core.twin.fitting import Fit
from traces.core.twin.mirrored import (
    half_a_hump_away,
    mirrored_profiles,
    mirrored_start,
    upside_down,
)
from traces.core.twin.model import Profile
from traces.core.twin.starts import (
    TDC_AFTER_HUMP_DEG,
    far,
    fit_readings,
    initial_shares,
    likelier,
    likelier_rigid,
)

_BETTER_TIMES, _POOR_COST, _CLEARLY_TIMES = 0.7, 50.0, 1.7
"""Share of its cost under which the mirrored cycle fits better; and the cost from which a fit must
be so many times better than that. Of 248 simulated sound engines of both families none came under
the first."""


def check_direction_of_fit(prepared: Prepared, found: Fit, layout: Measured) -> list[Finding]:
    """Refuse a cycle that fits better read from its end, and doubt one that fits about as well.

    Where the fit is a good one both ways, as with many cylinders that are alike, the direction
    does not show, and does not matter. Other signals than the current blunt its rise and fall too
    much to be asked.
    """
    if not prepared.setup.kind.is_current:
        return []
    span = prepared.cranking.span
    if not span.start_seen and not span.end_seen:
        flipped, alike = upside_down(found.profile), np.ones(found.known.cylinders)
        # evenly spaced, the gap before a hump is the gap after another
        for side in (1,) if _is_even(found.profile) else (-1, 1):
            known = half_a_hump_away(found.known, side)
            if fit_readings(flipped, known, alike, in_reach=found.cost).cost < found.cost:
                return [finding("zero-unknown")]
    rough = initial_shares(layout.strengths, prepared.setup)
    # rigid flywheels are compared: one on a spring follows either direction
    rigid = min((f for f in (found, *found.others) if not f.has_two_masses), key=lambda f: f.cost)
    # with a pump where there is one: read from its end it has as many strokes
    known, turned = mirrored_start(rigid.known, rough, TDC_AFTER_HUMP_DEG)
    mirrored = []
    clearly = _CLEARLY_TIMES if rigid.cost > _POOR_COST else 1.0
    unclear = clearly * rigid.cost
    for profile in mirrored_profiles(found.profile):
        other = fit_readings(profile, known, turned, in_reach=unclear)
        if other.cost < far(rigid.cost):
            other = likelier_rigid(other, turned, in_reach=unclear)
        mirrored.append(other)
    best = min(mirrored, key=lambda f: f.cost)
    if best.cost < _BETTER_TIMES * rigid.cost and (
        not found.has_two_masses or likelier(best, turned, in_reach=found.cost).cost < found.cost
    ):
        # a recording that begins with the inrush was not turned round: the engine is another one
        forwards = direction_of(prepared.cranking) == "forwards"
        return [finding("poor-fit-mirrored" if forwards else "time-reversed")]
    if best.cost < unclear:
        return [finding("time-direction-unclear")]
    return []


def _is_even(profile: Profile) -> bool:
    gaps_deg = np.diff(profile.tdc_deg, append=profile.tdc_deg[0] + CYCLE_DEG)
    return bool(np.ptp(gaps_deg) < 1e-6)
