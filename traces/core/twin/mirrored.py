"""A mean cycle read the other way: from its end to its beginning, or upside down.

A small residual proves little: many curves look like some engine. But a starter that turns an
engine has a direction in time. The current climbs against a compression, and after top dead
centre the crank runs ahead of the starter and lets it idle; read from the end, a sound capture
fits far worse. Where it fits better read the wrong way, the trace is not what it was taken for.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from traces.core.twin.model import Floats, Profile
from traces.core.twin.parameters import PHASE, PHASE_UNIT_DEG, Knowledge

_CYCLE_DEG = 720.0


def mirrored_profiles(profile: Profile) -> Iterator[Profile]:
    """Yield a cycle read from its end, with the firing angles that this can mean.

    They are those of the engine, and where it fires unevenly the same mirrored too: a cycle laid
    out by one of them may be read by the other.
    """
    current = np.concatenate((profile.current[:1], profile.current[:0:-1]))
    # rounded, or a rounding error under 0 comes out as a whole cycle and an even engine as uneven
    turned_deg = np.sort(np.round(-profile.tdc_deg, 6) % _CYCLE_DEG)
    # read from its end no hump has its second one after it
    yield replace(profile, current=current, again=None)
    if not np.allclose(turned_deg, profile.tdc_deg, atol=1.0):
        yield replace(profile, current=current, tdc_deg=turned_deg, again=None)


def mirrored_start(known: Knowledge, rough: Floats, lag_deg: float) -> tuple[Knowledge, Floats]:
    """Return what is known, and rough readings, of a cycle read from its end.

    Parameters
    ----------
    rough
        Readings in firing sequence, shape (n,).
    lag_deg
        How far top dead centre was taken to be after the hump.
    """
    phase_deg = float(known.centre[PHASE]) * PHASE_UNIT_DEG
    centre = known.centre.copy()
    centre[PHASE] = (2.0 * lag_deg - phase_deg) / PHASE_UNIT_DEG
    return replace(known, centre=centre), np.concatenate((rough[:1], rough[:0:-1]))


def upside_down(profile: Profile) -> Profile:
    """Return a cycle whose current falls where it rose, with the same mean."""
    return replace(profile, current=2.0 - profile.current, again=None)


def half_a_hump_away(known: Knowledge, side: int) -> Knowledge:
    """Return what is known where humps were taken for the gaps before or after them."""
    centre = known.centre.copy()
    centre[PHASE] += side * _CYCLE_DEG / known.cylinders / 2 / PHASE_UNIT_DEG
    return replace(known, centre=centre)
