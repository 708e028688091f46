"""Whether a fit hangs on where the engine cycle is cut.

A cycle repeats: cut at another firing, it is the same cycle, and the same engine must come out. A
fit that finds another one has not settled, as where few samples or another shape leave it several.
"""

from dataclasses import replace

import numpy as np

from traces.core.findings import Finding, finding
from traces.core.twin.fitting import Fit, Floats
from traces.core.twin.model import Profile, angles_deg

_LEAST_SHIFT = 0.15  # smaller ones only widen the interval
_WITHIN = 2.0  # standard deviations of a figure


def cut_later(found: Fit, firings: int) -> Profile:
    """Return the fitted cycle's profile cut a number of firings later.

    Parameters
    ----------
    found
        Says how the crank angle runs over the cycle's time.
    firings
        From 0 to one less than the cylinders.
    """
    profile = found.profile
    points, begin_deg = profile.current.size, float(profile.tdc_deg[firings])
    angles = np.append(angles_deg(found.state, points), 720.0)
    share = float(np.interp(begin_deg, angles, np.arange(points + 1) / points))
    lines = np.fft.rfft(profile.current)
    turned = lines * np.exp(2j * np.pi * share * np.arange(lines.size))
    return replace(
        profile,
        current=np.fft.irfft(turned, n=points),
        tdc_deg=(np.roll(profile.tdc_deg, -firings) - begin_deg) % 720.0,
        again=None if profile.again is None else (profile.again - firings) % profile.cylinders,
    )


def shifts_of(relative: Floats, other: Floats, firings: int) -> Floats:
    """Return how far figures lie from those of a cycle cut later, in the order of the first.

    Parameters
    ----------
    relative, other
        Over the sound mean of each, shape (n,); `other` begins `firings` later.
    """
    return np.asarray(np.abs(relative - np.roll(other, firings)), dtype=np.float64)


def check_shifts(shifts: Floats, errors: Floats) -> list[Finding]:
    """Refuse figures that move by more than they are trusted to when the cut moves.

    Parameters
    ----------
    shifts
        From `shifts_of`, shape (n,).
    errors
        Standard deviations of the figures, shape (n,).
    """
    beyond = shifts > np.maximum(_WITHIN * errors, _LEAST_SHIFT)
    if not (beyond.any() or np.isnan(shifts).any()):
        return []
    return [finding("too-uncertain-cut", points=f"{100 * float(np.nanmax(shifts)):.0f}")]
