"""How wrong a fitted figure may be: from the fit's curvature and from what models miss."""

import math

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.fitting import Fit, Floats
from traces.core.twin.lobes import RATIO_STEP
from traces.core.twin.parameters import RATIO
from traces.core.twin.starts import GOOD_RMS

_SOUND_FROM = 0.88
_OF_CURVATURE = 1.2
"""Neighbouring points of a cycle are not independent, and the twin is not the engine."""

_USUAL_RMS = 0.006
_USUAL_COST = 68.0
"""Nine of ten simulated engines without anything odd cost less: where what is known of engines is
strained, as by a pump's lobes, figures are as unsure as where the curve is missed."""
_UNKNOWN_COST = 100.0
"""Cost from which the twin does not know such an engine, so that its curvature says ever less: of
magnets that the armature weakens, fed through a slow winding, a fit costs 200 and more. Only where
the curve is followed all the same: what misses it is unsure by that already."""

_LEAST = 0.015
_OF_WEAKNESS = 0.20
"""A half-weak cylinder can be so by a leak, by its filling or by its clearance; the three shape
the lobe differently, and the fit may mistake one for the other. None and full are clearer."""

_AS_LIKELY = 10.0
"""Cost by which another kind of engine counts less by a factor of e: models are no exact ones, so
that less than the 2 of a likelihood is right."""

_OF_ONE_CYCLE = 0.025
"""A cycle marched by itself hangs on the speed it begins with."""


def method_errors(found: Fit, reference: float) -> Floats:
    """Return standard deviations of relative compression by cylinder, shape (n,).

    Parameters
    ----------
    found
        The fitted twin.
    reference
        Peak gauge pressure of the sound cylinders.

    Notes
    -----
    The three terms were set on simulated engines of both families; see docs/balance.md for the
    coverage on engines that took no part in it.
    """
    return np.asarray(np.sqrt(np.diag(_covariance(found, reference))))


def method_correlation(found: Fit, reference: float) -> Floats:
    """Return how the errors of `method_errors` go together, shape (n, n)."""
    covariance = _covariance(found, reference)
    spread = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(spread, spread))


def _covariance(found: Fit, reference: float) -> Floats:
    relative = found.lobes.peaks / reference
    own = fit_covariance(found, reference, relative >= _SOUND_FROM)
    return own + _between_others(found, relative)


def fit_covariance(found: Fit, reference: float, sound: NDArray[np.bool_]) -> Floats:
    """Return what one kind of engine leaves open of relative compression, shape (n, n).

    Parameters
    ----------
    sound
        Which cylinders `reference` is the mean of, shape (n,).
    """
    known, values = found.known, found.state.values
    lobes = found.lobes
    n = known.cylinders
    each = np.arange(n)
    slopes = np.zeros((n, values.size))
    slopes[each, known.shares.start + each] = lobes.peaks_by_share
    slopes[each, known.masses.start + each] = lobes.peaks_by_mass
    slopes[each, known.clearances.start + each] = -lobes.peaks_by_ratio / np.log(RATIO_STEP)
    slopes[:, RATIO] = lobes.peaks_by_ratio
    slopes /= reference
    relative = lobes.peaks / reference
    if sound.any():
        slopes = slopes - relative[:, None] * slopes[sound].mean(axis=0)
    free = np.flatnonzero((values > known.low + 1e-9) & (values < known.high - 1e-9))
    covariance = np.linalg.pinv(found.curvature[np.ix_(free, free)], hermitian=True)
    of_fit = slopes[:, free] @ covariance @ slopes[:, free].T
    strained = found.cost / _USUAL_COST
    if found.rms < GOOD_RMS:
        strained *= max(1.0, found.cost / _UNKNOWN_COST)
    worse = max(1.0, (found.rms / _USUAL_RMS) ** 2, strained)
    of_kind = _kind_errors(relative)
    return np.asarray(_OF_CURVATURE**2 * worse * of_fit + np.diag(_LEAST**2 + of_kind**2))


def _between_others(found: Fit, relative: Floats) -> Floats:
    """Return what other kinds of engine that are nearly as likely would say, as a covariance."""
    total, weights = np.zeros((relative.size, relative.size)), 1.0
    sound = relative >= _SOUND_FROM
    for other in found.others:
        peaks = other.lobes.peaks
        level = peaks[sound].mean() if sound.any() else peaks.max()
        if not level > 0:
            continue
        weight = float(np.exp(-max(other.cost - found.cost, 0.0) / _AS_LIKELY))
        off = peaks / level - relative
        total, weights = total + weight * np.outer(off, off), weights + weight
    return np.asarray(total / weights)


def changing_error(relative: float, of_fit: float) -> float:
    """Return the standard deviation of a cylinder that is low in some cycles only.

    Parameters
    ----------
    relative
        Mean of its cycles.
    of_fit
        From `method_errors`, for the cycles it is well in.
    """
    return math.hypot(of_fit, float(_kind_errors(np.array([relative]))[0]), _OF_ONE_CYCLE)


def _kind_errors(relative: Floats) -> Floats:
    inner = np.clip(relative, 0.0, 1.0)
    return np.asarray(_OF_WEAKNESS * inner * (1 - inner))
