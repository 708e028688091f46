"""What a sound firing has to give, over the energy that the crank holds.

Once the engine is switched off, friction, pumping and what it drives go on taking what the
firings gave before: what the crank loses from one firing to the next is a firing's share. Teeth
that stand askew show there without any firing, too. Without that end the usual size of crank and
friction has to do, and it is off by half.
"""

from dataclasses import dataclass

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.running.idle_stretch import IdleStretch
from traces.core.signals import ToothTrack
from traces.core.waveform import Floats

_USUAL_W_S2 = 3800.0
"""Level times cylinders times speed squared, (rad/s)^2: 0.1 kg m2 of crank and flywheel and 200 J
a cycle for each litre (from memory)."""

_USUAL_SPREAD, _MEASURED_SPREAD = 0.40, 0.10
"""Of the logarithm; and over the measured level, as far as loads change when it is switched off."""

_FROM, _TO = 0.9, 0.3
"""Share of the idle's energy between which the loss counts: the last firings are over before, and
afterwards compressions stop the crank unevenly."""

_OFF_BELOW, _LEAST_FALL = 0.45, 0.3
_STILL_FIRING = 0.5
"""Share of the loss while coasting under which something still fires."""

_A_GAP = 8
_LEAST_LEVEL, _MOST_LEVEL = 0.005, 0.5


@dataclass(frozen=True, slots=True)
class WorkLevel:
    """A sound firing's share of the crank's energy.

    Parameters
    ----------
    share
        Over the energy at idle.
    spread
        Its standard deviation, as a share of it.
    is_measured
        Whether the crank coasted after it was switched off.
    """

    share: float
    spread: float
    is_measured: bool


def work_level(track: ToothTrack, idle: IdleStretch, cylinders: int) -> WorkLevel:
    """Return what a firing has to give, measured where the engine was switched off."""
    measured = _lost_a_firing(track, idle, cylinders)
    if measured is not None:
        return WorkLevel(measured, _MEASURED_SPREAD, is_measured=True)
    speed_rad_s = idle.rpm * np.pi / 30.0
    usual = _USUAL_W_S2 / (cylinders * speed_rad_s**2)
    return WorkLevel(float(usual), _USUAL_SPREAD, is_measured=False)


def _lost_a_firing(track: ToothTrack, idle: IdleStretch, cylinders: int) -> float | None:
    """Return what the coasting crank loses from one firing to the next; None where none coasts."""
    gap_deg = CYCLE_DEG / cylinders
    at_deg, energy = _energies(track, idle, gap_deg)
    if energy.size == 0 or energy[-1] > _OFF_BELOW:
        return None
    lost_each = energy[:-_A_GAP] - energy[_A_GAP:]
    low = (energy[:-_A_GAP] < _FROM) & (energy[_A_GAP:] > _TO)
    if np.count_nonzero(low) < 3:
        return None
    slower = lost_each < _STILL_FIRING * float(np.median(lost_each[low][-2 * _A_GAP :]))
    first = lost_each.size - int(np.argmax(slower[::-1])) if slower.any() else 0
    coasting = slice(first, None)
    inside = (energy[coasting] < _FROM) & (energy[coasting] > _TO)
    if np.count_nonzero(inside) < 3 or float(np.ptp(energy[coasting][inside])) < _LEAST_FALL:
        return None
    slope = float(np.polyfit(at_deg[coasting][inside], energy[coasting][inside], 1)[0])
    lost = -slope * gap_deg
    return lost if _LEAST_LEVEL < lost < _MOST_LEVEL else None


def _energies(track: ToothTrack, idle: IdleStretch, gap_deg: float) -> tuple[Floats, Floats]:
    """Return the mean energy over a gap between firings about each angle, over that of the idle.

    Over whole gaps compressions give back what they take.
    """
    begins_deg = np.arange(idle.from_deg, track.angle_deg[-1] - gap_deg, gap_deg / _A_GAP)
    at_s = np.interp([begins_deg, begins_deg + gap_deg], track.angle_deg, track.times_s)
    rpm = gap_deg / (at_s[1] - at_s[0]) / 6.0
    return begins_deg + gap_deg / 2, np.asarray((rpm / idle.rpm) ** 2)
