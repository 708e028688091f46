"""Where fits of the twin begin, and which of them is kept."""

from contextlib import suppress
from dataclasses import replace

import numpy as np

from traces.core.humps import Limits, sound_mean
from traces.core.report import HIGH_FROM
from traces.core.setup import AnalysisSetup
from traces.core.twin.fitting import Fit, Floats, fit
from traces.core.twin.model import Profile
from traces.core.twin.parameters import (
    INERTIA,
    KNEE,
    LEVEL,
    NATURAL,
    PHASE,
    Knowledge,
    with_one_mass,
    with_two_masses,
)
from traces.core.twin.pumps import fits_with_pump, likely_strokes

TDC_AFTER_HUMP_DEG = 16.0  # load humps peak 22 degrees before top dead centre, seen late
PHASE_SPREAD_DEG = 15.0
"""Where hump readings put the top dead centres, and how far that may be off."""

LEAST_ROUGH = 0.05
"""Share of the sound ones that a hump reading is taken for at least."""

AS_LIKELY = 30.0
"""Twice the log of how much less likely another layout may be and still count as possible."""

FIRST_LEVEL = 0.85
FIRST_KNEE = 0.2
_CLEARANCE_BY_PEAK = 0.8  # ln clearance falls by so much where ln peak rises by 1
GOOD_RMS = 0.010
_OTHER_STARTS = ((0.7, 0.8), (-0.7, 0.1))
"""Where the first fit is not a good one: how much lighter the crank starts, and the knee."""
_FEW = 3
_HIGHEST = 1.5
_ALIKE = 0.03
_HALVED = 0.5

_ALL_EXPLAINED = 45.0
"""Cost of a fit that leaves nothing for a two-mass flywheel to explain: nearly all rigid ones of a
simulated two-mass flywheel cost more, half of those of ordinary engines do not."""

RARER = 8.0
"""Twice the log of how much rarer such flywheels are, and of what they are free to choose."""

_NO_PUMP = 25.0
"""Cost of a fit that leaves nothing for a pump to explain."""

_CLEARLY = 0.9
"""Share of the cost without a pump under which it is kept: of two poor fits, as of a cycle that
stands for cylinders that come and go, the one with a pump is no better for being a little so."""

_PUMP_EXPLAINS = 60.0
"""Cost up to which a pump is taken to explain the cycle: a fit that leaves more over bends the
pump towards what no model here explains (humps that are no engine's cost 80 and more)."""

_MOST = 0.5
"""Share under which a pump that does not explain all is kept too."""

_NO_CYCLE = (ArithmeticError, ValueError, np.linalg.LinAlgError)
"""What a start raises from which no cycle repeats."""

FREQUENCIES_HZ = (12.0, 8.0, 17.0)

_FAR_TIMES, _FAR = 6.0, 100.0
"""How much costlier a first fit may be than is of use and still be worth other starts and kinds of
engine."""

_FREED_TIMES, _FREED = 3.0, 50.0
"""How much costlier a fit with all clearances alike may be and still come down to what is of use:
of 288 such fits five did from above."""

_UNHEARD = 50.0
"""Cost above what is of use from which another kind of engine has no say (`errors._AS_LIKELY`)."""


def far(in_reach: float) -> float:
    """Return the cost above which other starts do not bring a first fit down to `in_reach`."""
    return _FAR_TIMES * in_reach + _FAR


def likelier(found: Fit, rough: Floats, *, in_reach: float = np.inf) -> Fit:
    """Try other starts where the first fit may have led astray; return the likeliest of all.

    Parameters
    ----------
    found
        From `fit_readings`.
    rough
        Hump readings over those of sound cylinders, shape (n,).
    in_reach
        As in `fit`; where all are above it, the one returned need not be the likeliest.

    Returns
    -------
    Fit
        With the others that explain the cycle by another engine beside it.
    """
    if found.cost > far(in_reach):
        return found
    rigid = likelier_rigid(found, rough, in_reach=in_reach)
    tried = [rigid, *_with_pumps(rigid, rough, in_reach)]
    if min(tried, key=_unlikelihood).cost > _ALL_EXPLAINED:
        tried += _with_two_masses(rigid, rough, in_reach)
    best = min((f for f in tried if f.has_pump == rigid.has_pump), key=_unlikelihood)
    pumped = min(tried, key=_unlikelihood)
    if _explains(pumped, _unlikelihood(best)):
        best = pumped
    return replace(best, others=tuple(f for f in tried if f is not best))


def _explains(pumped: Fit, without: float) -> bool:
    """Return whether a pump explains clearly more: nearly all there is, or most of it."""
    cost = _unlikelihood(pumped)
    enough = cost < _PUMP_EXPLAINS or cost < _MOST * without
    return enough and cost < _CLEARLY * without


def _unlikelihood(found: Fit) -> float:
    return found.cost + (RARER if found.has_two_masses else 0.0)


def likelier_rigid(found: Fit, rough: Floats, *, in_reach: float = np.inf) -> Fit:
    """Try the other starts of `likelier` with a rigid flywheel only."""
    profile, known, best = found.profile, found.known, found
    if found.rms >= GOOD_RMS:
        for lighter, knee in _OTHER_STARTS:
            with suppress(*_NO_CYCLE):
                tried = fit_readings(
                    profile, known, rough, lighter=lighter, knee=knee, in_reach=in_reach
                )
                best = min(best, tried, key=lambda f: f.cost)
    if rough.size <= _FEW:
        # so few humps say little of which is low: each cylinder is tried as the only one
        for i in range(rough.size):
            tried = _from_alike(profile, known, i, in_reach)
            best = min(best, tried, key=lambda f: f.cost)
    return best


def _with_pumps(found: Fit, rough: Floats, in_reach: float) -> list[Fit]:
    """Fit with the pumps that promise to explain what is left over.

    Not behind a flywheel on a spring: the two together follow nearly any cycle.
    """
    if found.has_pump or found.cost < _NO_PUMP:
        return []
    afresh = _first(found.known, rough)
    afresh[PHASE] = found.state.values[PHASE]
    return [
        pumped
        for strokes in likely_strokes(found)
        for pumped in fits_with_pump(
            found, strokes, afresh, _ALL_EXPLAINED, in_reach=in_reach + _UNHEARD
        )
    ]


def _with_two_masses(rigid: Fit, rough: Floats, in_reach: float) -> list[Fit]:
    """Fit with a two-mass flywheel from several frequencies, until one leaves nothing over.

    What a rigid flywheel was found to be is no start: it stands for the spring as well.
    """
    known = with_two_masses(rigid.known)
    first = _first(known, rough)
    first[PHASE] = rigid.state.values[PHASE]
    tries: list[Fit] = []
    for frequency_hz in FREQUENCIES_HZ:
        first[NATURAL] = np.log(frequency_hz)
        with suppress(*_NO_CYCLE):
            tries.append(fit(rigid.profile, known, first, in_reach=in_reach + _UNHEARD))
            if tries[-1].cost < _ALL_EXPLAINED:
                break
    return tries


def _from_alike(profile: Profile, known: Knowledge, low: int, in_reach: float) -> Fit:
    """Fit with all cylinders but one alike, and from there with all free."""
    others = np.arange(known.cylinders) != low
    first = known.centre.copy()
    first[known.shares] = FIRST_LEVEL
    first[known.shares.start + low] *= _HALVED
    first[LEVEL], first[KNEE] = FIRST_LEVEL, FIRST_KNEE
    fixed = np.zeros(first.size, dtype=np.bool_)
    fixed[known.masses] = fixed[known.clearances] = others
    spread = known.spread.copy()
    spread[known.shares][others] *= _ALIKE
    alike = replace(known, spread=spread)
    found = fit(profile, alike, first, fixed, in_reach=far(in_reach))
    return fit(profile, known, found.state.values, in_reach=in_reach)


def fit_readings(
    profile: Profile,
    known: Knowledge,
    rough: Floats,
    *,
    lighter: float = 0.0,
    knee: float = FIRST_KNEE,
    in_reach: float = np.inf,
) -> Fit:
    """Fit leaks and masses; only where that leaves something over, clearances too.

    The flywheel is a rigid one, whatever is known of it; `in_reach` as in `fit`.
    """
    known = with_one_mass(known)
    first = _first(known, rough)
    first[KNEE] = knee
    first[INERTIA] -= lighter
    fixed = np.zeros(first.size, dtype=np.bool_)
    fixed[known.clearances] = rough < HIGH_FROM
    freed = _FREED_TIMES * in_reach + _FREED
    found = fit(profile, known, first, fixed, in_reach=freed)
    if found.cost > freed:
        return found
    return fit(profile, known, found.state.values, in_reach=in_reach)


def _first(known: Knowledge, rough: Floats) -> Floats:
    first = known.centre.copy()
    first[known.shares] = FIRST_LEVEL * np.minimum(rough, 1.0)
    first[known.clearances] = -_CLEARANCE_BY_PEAK * np.log(np.maximum(rough, 1.0))
    first[LEVEL], first[KNEE] = FIRST_LEVEL, FIRST_KNEE
    return first


def initial_shares(strengths: Floats, setup: AnalysisSetup) -> Floats:
    """Return readings over those of the sound cylinders, within what can be."""
    if not strengths.max() > 0:
        return np.full(strengths.size, LEAST_ROUGH)
    sound, _ = sound_mean(strengths, Limits(setup.suspect_below, setup.watch_below))
    rough = np.clip(strengths / sound, LEAST_ROUGH, _HIGHEST)
    return np.where((rough > 1.0) & (rough < HIGH_FROM), 1.0, rough)
