"""Tooth times of an engine that runs, tied to crank angle."""

from collections.abc import Sequence

import numpy as np

from traces.core.setup import ToothWheel
from traces.core.signals import OnceACycle, ToothTrack, clearest_track
from traces.core.waveform import Floats

_LEAST_RATE = 0.3
_AROUND = 40
_SAMPLES_A_TOOTH = 3.0


def idle_track(
    edges: Sequence[Floats], wheel: ToothWheel, beside: OnceACycle | None = None
) -> ToothTrack:
    """Tie edges to crank angle, up to where the crank all but stands.

    Parameters
    ----------
    edges
        Rising and falling ones.
    wheel
        What a person knows of it.
    beside
        Events that tell sectors of a wheel from turns.

    Raises
    ------
    WheelError
        If the edges make no wheel, or it is not clear which.
    """
    moving = [_moving(times_s) for times_s in edges]
    return clearest_track(moving, wheel, beside=beside, running=True)


def is_caught(track: ToothTrack, rate_hz: float) -> bool:
    """Return whether a recorder was fast enough for the teeth."""
    usual_s = float(np.median(np.diff(track.times_s)))
    return usual_s * rate_hz >= _SAMPLES_A_TOOTH


def _moving(times_s: Floats) -> Floats:
    """Return edges without those of a crank that coasts to a stop: it swings back at the end."""
    if times_s.size < 4 * _AROUND:
        return times_s
    passed_s = times_s[_AROUND:] - times_s[:-_AROUND]
    slow = passed_s > float(np.median(passed_s)) / _LEAST_RATE
    last = passed_s.size - int(np.argmin(slow[::-1]))
    first = int(np.argmin(slow))
    return times_s[first : last + _AROUND]
