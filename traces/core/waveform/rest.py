"""The clamp's level at rest, found by quiet alone: before a crank, or after it.

A clamp that was not zeroed may rest at hundreds of amps, so that neither the sign of the current
nor what is a crank can be told from the level. But a rest is quiet, and the crank beside it lies
all on one side of it.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_LEAST_S = 0.1
_LOOK_S = 0.25  # about a hump
_QUIET_SHARE = 0.35
_QUANTISED_SHARE = 0.05  # of the whole swing: steps of a coarse recorder
_INRUSH_S = 0.35
_CRANK_S = 1.0
_BEYOND_SHARE = 0.2
_NEAR_ZERO = 0.15
_UNLOADED = 0.65
"""Up to this share of its cranking current a starter draws that spins without load, while the
engine runs (common practice: 40 to 90 A of 150 to 200 A)."""


@dataclass(frozen=True, slots=True)
class Rest:
    """A level at rest beside a crank.

    Parameters
    ----------
    level_a
        Median at rest, in the signal's own sign.
    crank_a
        Median of the crank beside it.
    before
        Whether it lies before the crank, else after it.
    """

    level_a: float
    crank_a: float
    before: bool

    @property
    def is_far_off(self) -> bool:
        """Whether the clamp's zero is off by more than loads on the cable explain."""
        return abs(self.level_a) > _NEAR_ZERO * self.drawn_a

    @property
    def is_inverted(self) -> bool:
        """Whether the crank lies below the rest."""
        return self.crank_a < self.level_a

    @property
    def drawn_a(self) -> float:
        """What the crank draws above rest, positive."""
        return abs(self.crank_a - self.level_a)


def find_rest(current: Floats, rate_hz: float) -> Rest | None:
    """Return the rest at the beginning of a recording, else at its end; None where there is none.

    Parameters
    ----------
    current
        Low-passed, shape (samples,); its sign and zero may be any.

    Notes
    -----
    The level after the crank may be that of a starter which the running engine has outrun: only
    one that such a starter cannot draw is taken for a rest.
    """
    found = _rest_at_start(current, rate_hz)
    if found is not None:
        return Rest(*found, before=True)
    found = _rest_at_start(current[::-1], rate_hz)
    if found is None:
        return None
    level_a, crank_a = found
    share = level_a / crank_a if crank_a else 0.0
    if _NEAR_ZERO < share < _UNLOADED:
        return None
    return Rest(level_a, crank_a, before=False)


def _rest_at_start(current: Floats, rate_hz: float) -> tuple[float, float] | None:
    """Return the level of a quiet beginning and of what follows, where that is a crank."""
    least, look = max(1, round(_LEAST_S * rate_hz)), max(3, round(_LOOK_S * rate_hz))
    if current.size < least + 2 * look:
        return None
    ripple = scipy.ndimage.maximum_filter1d(current, look) - scipy.ndimage.minimum_filter1d(
        current, look
    )
    low, high = (float(v) for v in np.quantile(current, (0.01, 0.99)))
    quiet = max(_QUIET_SHARE * float(np.quantile(ripple, 0.75)), _QUANTISED_SHARE * (high - low))
    first = float(np.median(current[:least]))
    away = np.flatnonzero(np.abs(current - first) > quiet)
    if away.size == 0 or int(away[0]) < least:
        return None
    level = float(np.median(current[: int(away[0])]))
    begin = int(away[0]) + round(_INRUSH_S * rate_hz)
    crank = current[begin : begin + round(_CRANK_S * rate_hz)]
    if crank.size < look:
        return None
    crank_level = float(np.median(crank))
    above = (crank - level) * np.sign(crank_level - level)
    if float(np.quantile(above, 0.05)) < _BEYOND_SHARE * abs(crank_level - level):
        return None
    return level, crank_level
