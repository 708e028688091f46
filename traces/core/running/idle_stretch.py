"""Where an engine idles steadily."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.signals import ToothTrack
from traces.core.waveform import Floats

Trouble: TypeAlias = Literal["not-running", "hunting", "too-fast", "too-short"]

LEAST_CYCLES = 12
_SLOWEST_RPM, _FASTEST_RPM = 450.0, 2000.0
"""Below it an engine is cranked, above it no engine idles (common practice)."""

_WITHIN, _STEP_WITHIN = 0.11, 0.10
"""Of cycles about their median, and from one to the next: a rough idle stays inside (simulated)."""

_HUNTS_FROM, _HUNTS_BELOW, _HUNTS_WITHIN = 0.02, -0.45, 12
"""Standard deviation from which, and correlation of cycles some apart below which, an idle hunts:
one that is only rough forgets its speed (simulated)."""

_LEAST_COVERED, _STILL_RUNS = 0.5, 0.75
"""Share of the running that must be steady: the best part alone would hide what comes and goes."""


class SpeedError(ValueError):
    """The speed allows no balance.

    Parameters
    ----------
    trouble
        What is wrong with it.
    low_rpm, high_rpm, cycles
        Of the whole recording; and how many cycles idle steadily.
    """

    def __init__(self, trouble: Trouble, low_rpm: float, high_rpm: float, cycles: int) -> None:
        super().__init__(trouble)
        self.trouble = trouble
        self.low_rpm, self.high_rpm, self.cycles = low_rpm, high_rpm, cycles
        self.least = LEAST_CYCLES


@dataclass(frozen=True, slots=True)
class IdleStretch:
    """Steady idle.

    Parameters
    ----------
    from_deg, to_deg
        As the teeth count crank angle.
    rpm
        Mean speed.
    cycles
        Whole engine cycles in it.
    """

    from_deg: float
    to_deg: float
    rpm: float
    cycles: int


def steady_idle(track: ToothTrack) -> IdleStretch:
    """Return the longest stretch of steady idle.

    Raises
    ------
    SpeedError
        If there is none that is long enough.
    """
    ends_deg = np.arange(0.0, track.angle_deg[-1] + 1e-9, CYCLE_DEG / 2)
    rpm = _rpm(track, ends_deg)
    if rpm.size == 0:
        raise SpeedError("too-short", 0.0, 0.0, 0)
    low, high = float(rpm.min()), float(rpm.max())
    if float(np.quantile(rpm, 0.9)) < _SLOWEST_RPM:
        raise SpeedError("not-running", low, high, 0)
    first, last = _longest_steady(rpm)
    # a cycle begins at every turn
    cycles = int(last - first + 2) // 2
    mean = float(rpm[first : last + 1].mean())
    if cycles < LEAST_CYCLES:
        ran = int(np.count_nonzero(rpm > _SLOWEST_RPM)) // 2
        raise SpeedError("hunting" if ran >= LEAST_CYCLES + 1 else "too-short", low, high, cycles)
    ran = int(np.count_nonzero(rpm > _STILL_RUNS * mean))
    if _hunts(rpm[first : last + 1]) or last - first + 1 < _LEAST_COVERED * ran:
        raise SpeedError("hunting", low, high, cycles)
    if mean < _SLOWEST_RPM:
        raise SpeedError("not-running", low, high, 0)
    if mean > _FASTEST_RPM:
        raise SpeedError("too-fast", low, high, cycles)
    return IdleStretch(float(ends_deg[first]), float(ends_deg[last + 2]), mean, cycles)


def _rpm(track: ToothTrack, ends_deg: Floats) -> Floats:
    """Return the mean speed of each cycle, one beginning with every turn."""
    at_s = np.interp(ends_deg, track.angle_deg, track.times_s)
    return np.asarray(120.0 / (at_s[2:] - at_s[:-2]), dtype=np.float64)


def _longest_steady(rpm: Floats) -> tuple[int, int]:
    """Return first and last cycle of the longest run about one speed, without a jump."""
    best = (0, -1)
    first = 0
    for last in range(rpm.size):
        while not _is_steady(rpm[first : last + 1]):
            first += 1
        if last - first > best[1] - best[0]:
            best = (first, last)
    return best


def _is_steady(rpm: Floats) -> bool:
    middle = float(np.median(rpm))
    if float(np.abs(rpm - middle).max()) > _WITHIN * middle:
        return False
    return rpm.size < 2 or float(np.abs(np.diff(rpm)).max()) < _STEP_WITHIN * middle


def _hunts(rpm: Floats) -> bool:
    """Return whether the speed swings to and fro over some cycles."""
    each = rpm[::2]
    if float(each.std()) < _HUNTS_FROM * float(each.mean()):
        return False
    off = each - each.mean()
    lags = range(2, min(_HUNTS_WITHIN, each.size // 3))
    alike = [float(off[lag:] @ off[:-lag] / (off @ off)) for lag in lags]
    return min(alike, default=0.0) < _HUNTS_BELOW
