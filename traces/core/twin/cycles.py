"""Each engine cycle by itself: how far its compressions are from the mean cycle's."""

import numpy as np

from traces.core.twin.fit import Fit, Floats
from traces.core.twin.model import STEPS, observed

_SHARE_SPREAD = 0.3
_START_SPREAD = 1.0
_SIGMA = 0.02


def per_cycle_changes(found: Fit, cycles: Floats) -> Floats:
    """Change of each cylinder's peak share in each cycle against the mean, shape (C, n).

    Linear about the fitted twin: a cycle's current answers to its cylinders, to a friction of
    its own and to the speed it starts with.
    """
    state, profile = found.state, found.profile
    n = profile.cylinders
    loads = np.concatenate((state.loads[:, found.known.shares], np.ones((STEPS, 1))), axis=1)
    answers = state.linear.answers(state.linear.by_load[:, :, None] * loads[:, None, :])
    design = observed(profile, state.orbit, answers, state.values)[1]
    design = design[:, [*range(2, n + 3), 0, 1]]
    spread = np.full(n + 3, _START_SPREAD)
    spread[:n] = _SHARE_SPREAD
    curvature = design.T @ design / _SIGMA**2 + np.diag(spread**-2)
    rows = cycles - profile.current
    changes = np.linalg.solve(curvature, design.T @ rows.T / _SIGMA**2)
    return np.asarray(changes.T[:, :n], dtype=np.float64)
