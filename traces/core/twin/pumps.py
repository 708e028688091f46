"""A pump on the camshaft: which number of strokes a cycle could have, and fits with it.

High-pressure fuel pumps take 5 to 20 joules a stroke from two to six lobes. That is far more than
other loads of an engine, and it comes at another order than the firings: to a fit that knows of
no such load some cylinders are stronger than others. So where a fit leaves something over, the
numbers of strokes are asked by slopes which of them would explain it, and only those are fitted.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from traces.core.twin.fitting import Fit, Floats, fit, normal_equations
from traces.core.twin.parameters import PUMP, STROKES, with_pump
from traces.core.twin.repeating_cycle import solve

_STROKES = (2, 3, 4, 5, 6)
_WORTH_A_FIT = 8.0
"""Gain of the cost, by slopes, from which a number of strokes is fitted."""
_MOST_FITTED = 2
_SHARE_OF_BEST = 0.4


def likely_strokes(found: Fit) -> list[int]:
    """Return the numbers of strokes worth a fit, the one that promises most first.

    Strokes that come with every firing are left out: they load all cylinders alike.
    """
    cylinders = found.profile.cylinders
    gains = {s: _gain(found, s) for s in _STROKES if s % cylinders}
    least = max(_WORTH_A_FIT, _SHARE_OF_BEST * max(gains.values(), default=0.0))
    worth = [s for s in sorted(gains, key=lambda s: -gains[s]) if gains[s] > least]
    return worth[:_MOST_FITTED]


def fits_with_pump(
    found: Fit, strokes: int, afresh: Floats, enough: float, *, in_reach: float = np.inf
) -> Iterator[Fit]:
    """Yield fits with a pump of so many strokes, from the fit without one and from elsewhere.

    Parameters
    ----------
    found
        Without a pump.
    afresh
        Other parameters to start from, shape (P,); what cylinders were made to take the pump's
        strokes may not find back.
    enough
        Cost from which on the other start is not tried.
    in_reach
        As in `fit`.
    """
    known = with_pump(found.known, strokes)
    for start in (found.state.values, afresh):
        first = start.copy()
        first[STROKES] = strokes
        try:
            pumped = fit(found.profile, known, first, in_reach=in_reach)
        except (ArithmeticError, ValueError, np.linalg.LinAlgError):
            continue  # a start from which no cycle repeats
        yield pumped
        if pumped.cost < enough:
            return


def _gain(found: Fit, strokes: int) -> float:
    """Return by how much slopes say that the cost would fall."""
    known, values = with_pump(found.known, strokes), found.state.values.copy()
    values[STROKES] = strokes
    state = solve(found.profile, values, found.state.orbit.start, found.state.pulls)
    normal = normal_equations(found.profile, known, state)
    if normal is None:
        return 0.0
    downhill, curvature = normal
    free = (values > known.low) & (values < known.high)
    with_it = np.flatnonzero(free)
    free[PUMP] = False
    without = np.flatnonzero(free)

    def falls_by(at: NDArray[np.intp]) -> float:
        step = np.linalg.solve(curvature[np.ix_(at, at)], downhill[at])
        return float(downhill[at] @ step)

    return falls_by(with_it) - falls_by(without)
