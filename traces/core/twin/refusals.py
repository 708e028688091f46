"""Why a fitted twin may not be trusted: each reason has its own sentence."""

import math

import numpy as np

from traces.core.findings import Finding, finding
from traces.core.twin.fitting import Fit

_LEAST_EXPLAINED = 0.97
_STRANGEST = 45.0
"""Squared spreads by which a fitted engine may differ, all together, from what engines are."""

_UNLIKELIEST = 250.0
"""The same with other loads and cylinders: a fit that needs all of them bent is none, however
little it leaves over."""


def check_fitted(found: Fit, worst_rms: float = math.inf) -> list[Finding]:
    """Refuse a twin that misses the cycle, or that no real engine is like.

    Parameters
    ----------
    found
        Fitted to the mean cycle.
    worst_rms
        Largest residual, share of the mean.

    Returns
    -------
    list of Finding
        `poor-fit` with the one reason that weighs most, or nothing.
    """
    peaks = found.lobes.peaks
    if not (np.isfinite(peaks).all() and peaks.max() > 0):
        return [finding("poor-fit-empty")]
    if found.explained < _LEAST_EXPLAINED:
        return [finding("poor-fit", share=f"{100 * found.explained:.0f}")]
    if found.rms > worst_rms:
        missed, most = f"{100 * found.rms:.1f}", f"{100 * worst_rms:.0f}"
        return [finding("poor-fit-rough", missed=missed, most=most)]
    values = found.state.values
    if found.known.strangeness(values) > _STRANGEST or found.known.cost(values) > _UNLIKELIEST:
        return [finding("poor-fit-strange")]
    return []
