"""The twin with one bank free to differ from the others, as a cam out of time makes it.

What is known of cylinders, each alone, pulls them all alike, and the banks with them. Here banks
may lie apart as a whole. How far hangs on how the drive passes on loads that come every other
firing: a two-mass flywheel changes that, and cylinders that are alike do not show it. So every
kind of engine that explains the cycle has its say, by how likely it is.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.errors import fit_covariance
from traces.core.twin.fitting import Fit, Floats, fit
from traces.core.twin.parameters import (
    BANK,
    KNEE,
    LEVEL,
    NATURAL,
    PHASE,
    RIPPLES,
    Knowledge,
    with_banks_free,
    with_pump,
    with_two_masses,
)
from traces.core.twin.starts import FIRST_KNEE, FIRST_LEVEL, FREQUENCIES_HZ, RARER

_AS_LIKELY = 10.0
"""As `errors._AS_LIKELY`: models are no exact ones. The more so the worse they fit: above
`_STRAINED` it grows with the cost."""

_SHARED, _FEW = 0.45, 2
"""Share of the variance of single cylinders' fits that is left in how banks differ: most of what
a twin gets wrong (lobe scale, friction, noise taken for more than it is) is wrong with both banks
alike. Errors of simulated engines were half the deviation that the curvature tells, and three
quarters of what this leaves. Banks of so few cylinders keep it all: two of twenty fell out of the
narrower interval. So does uneven firing, whose spacing alternates as banks do: of 91 engines
without a late bank two were called by the narrower one, and one of uneven banks passed over."""

_STRAINED = 60.0
"""Cost from which nothing is taken off: a cycle that no kind of engine explains is wrong in
ways that no curvature knows."""

_SAME_SPACING_DEG = 1.0
_SAME_FREQUENCY = 0.1  # of its logarithm


def peaks_freed(
    found: Fit, banks: Sequence[NDArray[np.bool_]], sound: NDArray[np.bool_]
) -> tuple[Floats, Floats] | None:
    """Return peak pressures with the lowest bank free to differ, and their covariance.

    Parameters
    ----------
    found
        The fitted twin.
    banks
        Which cylinders are of each bank, each shape (n,).
    sound
        Which cylinders are the measure of the others, shape (n,).

    Returns
    -------
    tuple of Floats or None
        Shape (n,) in the unit of the fit's own, and (n, n) relative to the sound cylinders; None
        where no such fit came about.
    """
    fitted = found.lobes.peaks
    if not sound.any() or not fitted[sound].mean() > 0:
        return None
    lowest = min(banks, key=lambda at: float(np.median(fitted[at])))
    fits = [f for f in _fits(found, lowest) if f.lobes.peaks[sound].mean() > 0]
    if not fits:
        return None
    costs = np.array([f.cost + (RARER if f.has_two_masses else 0.0) for f in fits])
    strain = max(1.0, float(costs.min()) / _STRAINED)
    weights = np.exp(-(costs - costs.min()) / (_AS_LIKELY * strain))
    weights /= weights.sum()
    levels = np.array([f.lobes.peaks[sound].mean() for f in fits])
    each = np.array([f.lobes.peaks for f in fits]) / levels[:, None]
    relative = weights @ each
    off = each - relative
    covariance = (off * weights[:, None]).T @ off
    for weight, level, one in zip(weights, levels, fits, strict=True):
        covariance = covariance + weight * fit_covariance(one, float(level), sound)
    few = min(int(np.count_nonzero(at)) for at in banks) <= _FEW
    keeps_all = few or not _fires_evenly(found.profile.tdc_deg)
    shared = 1.0 if keeps_all else min(1.0, _SHARED * strain**2)
    return relative * float(fitted[sound].mean()), shared * covariance


def _fires_evenly(tdc_deg: Floats) -> bool:
    spacing_deg = np.diff(np.sort(tdc_deg), append=float(tdc_deg.min()) + 720)
    return bool(np.ptp(spacing_deg) < _SAME_SPACING_DEG)


def _fits(found: Fit, in_bank: NDArray[np.bool_]) -> list[Fit]:
    """Fit from what was found, from the rigid flywheel beside it, and from two-mass ones."""
    bases = [found, *(f for f in found.others if not (f.has_two_masses or f.has_pump))]
    tried = [_fitted(found, with_banks_free(f.known, in_bank), f.state.values) for f in bases]
    fits = [f for f in tried if f is not None]
    if not fits:
        return []
    known = with_two_masses(with_banks_free(with_pump(found.known, 0), in_bank))
    for frequency_hz in FREQUENCIES_HZ:
        freed = _fitted(found, known, _sprung(fits[-1], known, frequency_hz))
        if freed is not None and not any(_is_same(freed, other) for other in fits):
            fits.append(freed)
    return fits


def _sprung(rigid: Fit, known: Knowledge, frequency_hz: float) -> Floats:
    """Return a start with a flywheel on a spring: cylinders as fitted, the engine as is usual."""
    first = rigid.state.values.copy()
    first[: RIPPLES.stop] = known.centre[: RIPPLES.stop]
    for kept in (PHASE, BANK):
        first[kept] = rigid.state.values[kept]
    first[LEVEL], first[KNEE] = FIRST_LEVEL, FIRST_KNEE
    first[NATURAL] = np.log(frequency_hz)
    return first


def _fitted(found: Fit, known: Knowledge, first: Floats) -> Fit | None:
    try:
        return fit(found.profile, known, first)
    except (ArithmeticError, ValueError, np.linalg.LinAlgError):
        return None  # a start from which no cycle repeats


def _is_same(one: Fit, other: Fit) -> bool:
    """Return whether two fits ended at the same engine, so that it counts once."""
    apart = abs(float(one.state.values[NATURAL] - other.state.values[NATURAL]))
    return one.has_two_masses == other.has_two_masses and apart < _SAME_FREQUENCY
