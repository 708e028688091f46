"""Why a fitted twin may not be trusted: each reason has its own sentence."""

import math

import numpy as np

from shopdiag.people.core.words import say
from traces.core.findings import Finding, finding, place_words
from traces.core.preparation import Measured
from traces.core.twin.cycles import Course
from traces.core.twin.fitting import Fit

_LEAST_EXPLAINED, _WORST_RMS = 0.97, 0.05
_STRANGEST = 45.0
"""Squared spreads by which a fitted engine may differ, all together, from what engines are."""

_UNLIKELIEST = 250.0
"""The same with other loads and cylinders: a fit that needs all of them bent is none, however
little it leaves over."""

_MISSING, _FAST_RPM = 0.30, 260.0
"""Share of the others' peaks under which a compression is missing, and the speed from which every
other one missing means a cycle taken for two."""


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


def check_twin(found: Fit, speed_rpm: float) -> list[Finding]:
    """Refuse a twin that `check_fitted` refuses, or whose cycle is two of the engine's."""
    if poor := check_fitted(found, _WORST_RMS):
        return poor
    n = found.profile.cylinders
    if n >= 4 and n % 2 == 0 and speed_rpm > _FAST_RPM:
        peaks = found.lobes.peaks
        one, other = sorted((peaks[::2], peaks[1::2]), key=lambda p: float(p.mean()))
        if float(one.max()) < _MISSING * float(other.min()):
            why = say(": every other hump is missing, as when a cycle is taken for two")
            return [finding("hump-mismatch", cylinders=n, why=why)]
    return []


def inconstant_finding(course: Course, layout: Measured) -> Finding:
    """Name a cylinder that is low in some cycles of the crank, steady part or not."""
    known = len(layout.labelings) == 1
    cylinder = layout.labelings[0][course.index] if known else None
    which = place_words(cylinder, course.index + 1, first=True)
    code = "low-at-first" if course.kind == "first" else "comes-and-goes"
    return finding(code, which=which, low=course.low, cycles=course.cycles)
