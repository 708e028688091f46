"""An exhaust valve that stays shut: its cylinder compresses a second time, a crank turn later.

The second compression stands on the hump of whichever cylinder fires there, or between two. That
cylinder reads high, or all others weak beside it; where the second compression is fitted as what
it is, both come out as they are. One that is high by itself, as by liquid, fits no better so.
"""

from dataclasses import replace

import numpy as np

from shopdiag.people.core.words import Text
from traces.core.findings import Finding, finding, place_words
from traces.core.preparation import Measured
from traces.core.report import HIGH_FROM, SecondCompression
from traces.core.twin.fitting import Fit, Floats
from traces.core.twin.model import Profile
from traces.core.twin.starts import far, fit_readings, likelier

_TURN_DEG = 360.0
_NEAR_DEG = 45.0
_ENOUGH = 3  # cylinders: of two, which one is high is anybody's guess
_RARER = 12.0
"""Twice the log of how much rarer such a valve is."""

_EXPLAINED = 30.0
"""Cost of a fit that leaves nothing for such a valve to explain: with liquid in a cylinder most
cost less, with a valve that stays shut none of some twenty simulated ones came under the double."""

_STRAINED = 100.0
"""Cost that hardly any engine reaches whose valves all open (simulated): where no hump stands
high, because the second compression falls between two, only such a fit is asked."""

_STILL_THERE = 0.75
"""Of the others, what the cylinder beneath must have of its own: one that is high for another
reason comes out weak instead."""

_BENEATH_ERROR = 0.15
"""Standard deviation of that cylinder's figure: how much of the second compression is left
varies from engine to engine (simulated engines of three families)."""


def likelier_shut(found: Fit, rough: Floats) -> Fit:
    """Return the likeliest fit with an exhaust valve that stays shut, else the one given.

    Parameters
    ----------
    found
        With valves that all open.
    rough
        Hump readings over those of sound cylinders, shape (n,).
    """
    best: Fit | None = None
    in_reach = found.cost - _RARER
    for place in _to_try(found, rough):
        profile = replace(found.profile, again=place)
        readings = without_second(profile, rough)
        try:
            tried = fit_readings(profile, found.known, readings, in_reach=far(in_reach))
        except (ArithmeticError, ValueError, np.linalg.LinAlgError):
            continue  # no cycle repeats with such a load
        if best is None or tried.cost < best.cost:
            best = tried
    if best is None:
        return found
    try:
        best = likelier(best, without_second(best.profile, rough), in_reach=in_reach)
    except (ArithmeticError, ValueError, np.linalg.LinAlgError):
        return found
    return best if best.cost + _RARER < found.cost and _is_there(best) else found


def place_beneath(tdc_deg: Floats, place: int) -> int | None:
    """Return the place whose hump the second compression stands on; None where on none."""
    cycle_deg = 2 * _TURN_DEG
    apart_deg = np.abs((tdc_deg - tdc_deg[place]) % cycle_deg - _TURN_DEG)
    nearest = int(np.argmin(apart_deg))
    return nearest if apart_deg[nearest] <= _NEAR_DEG else None


def without_second(profile: Profile, rough: Floats) -> Floats:
    """Return readings as they would be without the profile's second compression."""
    if profile.again is None:
        return rough
    beneath = place_beneath(profile.tdc_deg, profile.again)
    if beneath is None:
        return rough
    level = float(np.median(np.delete(rough, beneath)))
    readings = rough / level if level > 0 else rough.copy()
    readings[beneath] = 1.0
    return np.where(readings > 1.0, 1.0, readings)


def beneath_errors(profile: Profile) -> Floats:
    """Return what a second compression adds to the error of each cylinder's figure, shape (n,)."""
    errors = np.zeros(profile.cylinders)
    if profile.again is not None:
        beneath = place_beneath(profile.tdc_deg, profile.again)
        if beneath is not None:
            errors[beneath] = _BENEATH_ERROR
    return errors


def second_compression(profile: Profile) -> SecondCompression | None:
    """Return the places, from 0, of the second compression's cylinder and of the one beneath."""
    if profile.again is None:
        return None
    return SecondCompression(of=profile.again, on=place_beneath(profile.tdc_deg, profile.again))


def shut_finding(profile: Profile, layout: Measured) -> list[Finding]:
    """Name the cylinder whose exhaust valve stays shut, where there is one."""
    if profile.again is None:
        return []
    known = len(layout.labelings) == 1

    def named(place: int) -> Text:
        return place_words(layout.labelings[0][place] if known else None, place + 1)

    shut, beneath = named(profile.again), place_beneath(profile.tdc_deg, profile.again)
    if beneath is None:
        return [finding("high-hump-between", shut=shut)]
    return [finding("high-hump-shut", shut=shut, high=named(beneath))]


def _to_try(found: Fit, rough: Floats) -> list[int]:
    """Return the places whose second compression may be what stands high."""
    peaks, tdc_deg = found.lobes.peaks, found.profile.tdc_deg
    if peaks.size < _ENOUGH or found.cost < _EXPLAINED or not peaks.max() > 0:
        return []
    high = (peaks >= HIGH_FROM * np.median(peaks)) | (rough >= HIGH_FROM * np.median(rough))
    places = range(peaks.size)
    under = [place_beneath(tdc_deg, place) for place in places]
    return [
        place
        for place, beneath in zip(places, under, strict=True)
        if (found.cost > _STRAINED if beneath is None else high[beneath])
    ]


def _is_there(found: Fit) -> bool:
    """Return whether the cylinder beneath has a compression of its own."""
    if found.profile.again is None:
        return False
    beneath = place_beneath(found.profile.tdc_deg, found.profile.again)
    if beneath is None:
        return True
    peaks = found.lobes.peaks
    return bool(peaks[beneath] >= _STILL_THERE * np.median(np.delete(peaks, beneath)))
