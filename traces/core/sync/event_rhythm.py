"""From event to event: whether they keep one step, and keep up with the current's cycles."""

import numpy as np

from traces.core.sync.pulses import Pulses
from traces.core.waveform import Floats

STRONG_SHARE = 0.5
"""Of the next highest: neighbours leak in at 10 to 30 %."""

_DRIFT_A_CYCLE, _LEAST_DRIFT = 0.008, 0.05
"""Against the count of cycles from the current, in cycles: 60 simulated captures slip 0.035 at
most from the first event to the last."""

_STEADY_STEPS, _OTHER_STEPS = 0.06, 0.15
"""Steps from event to event within so much of their median are one rhythm; medians that differ by
so much are two."""

_FEWEST_STEPS = 3
_HALVES = 0.16


def is_one_step(steps: Floats) -> bool:
    """Return whether events keep to a step of their own, some of them missed."""
    least = float(steps.min())
    if steps.size == 1:
        return abs(least - round(least)) > _HALVES  # else it is the cycle's own
    times = steps / least
    return bool((np.abs(times - np.rint(times)) < _OTHER_STEPS).all())


def drifts(slip_cycles: Floats, counted: Floats) -> bool:
    """Return whether events move steadily against the humps, more than counting errs."""
    slipped = float(np.ptp(slip_cycles))
    return slipped > max(_LEAST_DRIFT, _DRIFT_A_CYCLE * float(np.ptp(counted)))


def has_two_rhythms(pulses: Pulses, counted: Floats) -> bool:
    """Return whether strong events keep to one step at first and to another one later.

    Whole and half cycles are no other rhythm: events are missed, and pairs turn single.
    """
    strong = pulses.heights > STRONG_SHARE * float(np.partition(pulses.heights, -2)[-2])
    steps = np.diff(counted[strong])
    for at in range(_FEWEST_STEPS, steps.size - _FEWEST_STEPS + 1):
        parts = (steps[:at], steps[at:])
        one, other = (float(np.median(part)) for part in parts)
        steady = all(
            float(np.abs(part - np.median(part)).max()) < _STEADY_STEPS * float(np.median(part))
            for part in parts
        )
        whole = all(abs(2 * step - round(2 * step)) < _HALVES for step in (one, other))
        if steady and not whole and abs(one - other) > _OTHER_STEPS * min(one, other):
            return True
    return False
