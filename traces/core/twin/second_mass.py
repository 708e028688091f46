"""A two-mass flywheel: what hangs behind its spring pulls at the crank as the speed swings.

The ring gear, and so the starter, sits on the crank's part. Behind the spring there is nothing but
an inertia, so its torque follows from the crank's speed by a linear law in time, harmonic by
harmonic: with A = k / (i w) + c, the second mass turns at y A / (A + i w J2), and what moves it is
i w J2 times that (a base-excited oscillator, in any textbook of vibration). The march
takes this torque as a load by angle, and `closed` finds the cycle in which both agree.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

HARMONICS = 20
"""Of the engine cycle: at 200 rpm up to 33 Hz, beyond any such flywheel's frequency."""

PULLS = 2 * HARMONICS + 1
"""Numbers that describe the torque by crank angle: its mean, cosines and sines."""

_SLIGHT = 1e-5


@dataclass(frozen=True, slots=True)
class SecondMass:
    """What hangs behind the spring.

    Parameters
    ----------
    inertia
        In torque units over squared speed, as the drive's.
    share
        Of the engine's inertia.
    frequency_hz
        At which both masses swing against each other without a starter.
    damping
        Damping ratio of that.
    """

    inertia: float
    share: float
    frequency_hz: float
    damping: float

    def apparent(self, cycle_s: float) -> Complexes:
        """Return inertia as the crank feels it at each harmonic of a cycle, over `inertia`."""
        return _apparent(self.share, self.frequency_hz, self.damping, cycle_s)

    def apparent_slopes(self, cycle_s: float) -> tuple[Complexes, Complexes, Complexes]:
        """Return slopes of `apparent` by share, ln frequency and ln damping."""
        here, up = self.apparent(cycle_s), float(np.exp(_SLIGHT))
        others = (
            _apparent(self.share + _SLIGHT, self.frequency_hz, self.damping, cycle_s),
            _apparent(self.share, self.frequency_hz * up, self.damping, cycle_s),
            _apparent(self.share, self.frequency_hz, self.damping * up, cycle_s),
        )
        by_share, by_frequency, by_damping = ((other - here) / _SLIGHT for other in others)
        return by_share, by_frequency, by_damping


def _apparent(share: float, frequency_hz: float, damping: float, cycle_s: float) -> Complexes:
    # on its spring alone, with the crank held, it swings more slowly
    held = float(np.sqrt(1 - share))
    ratio = np.arange(1, HARMONICS + 1) / (cycle_s * frequency_hz * held)
    lagging = 1 + 2j * damping * held * ratio
    return np.asarray(lagging / (lagging - ratio * ratio))


@lru_cache(maxsize=4)
def pull_shapes(steps: int) -> Floats:
    """Return the torque of a unit of each number in the middle of each step, (steps, PULLS)."""
    angle_rad = (np.arange(steps) + 0.5) * (2 * np.pi / steps)
    turned = angle_rad[:, None] * np.arange(1, HARMONICS + 1)
    shapes = np.concatenate((np.ones((steps, 1)), np.cos(turned), np.sin(turned)), axis=1)
    shapes.setflags(write=False)
    return np.asarray(shapes)


@lru_cache(maxsize=4)
def _projection(steps: int) -> Floats:
    """Return what turns a torque by step into its numbers, (PULLS, steps)."""
    onto = pull_shapes(steps).T * (2 / steps)
    onto[0] /= 2
    return np.asarray(onto)


@dataclass(frozen=True, slots=True, eq=False)
class Reaction:
    """Torque of the second mass that a cycle of the crank calls for.

    Parameters
    ----------
    pulls
        Its numbers, shape (PULLS,).
    pulls_by
        Their slopes by what moved the nodes' times, shape (PULLS, C).
    pulls_by_apparent
        Their slopes by the complex apparent inertia of each harmonic, shape (PULLS, HARMONICS):
        the real part of this times a change.
    """

    pulls: Floats
    pulls_by: Floats
    pulls_by_apparent: Complexes


def reaction(
    time: Floats, time_by: Floats, step_rad: float, inertia: float, apparent: Complexes
) -> Reaction:
    """Return what the second mass does to a crank that passes the nodes at these times.

    Parameters
    ----------
    time, time_by
        Of the nodes in the model's time, shape (N + 1,), and slopes, shape (N + 1, C).
    inertia, apparent
        See `SecondMass`.

    Notes
    -----
    Speed times time is angle, so that a harmonic of speed is a plain sum over equal steps of angle:
    (2 / T) sum of h exp(-2 pi i k t / T).
    """
    lasted, lasted_by = time[-1], time_by[-1]
    passed = (time[:-1] + time[1:]) / (2 * lasted)
    passed_by = ((time_by[:-1] + time_by[1:]) / 2 - passed[:, None] * lasted_by) / lasted
    turning = 2j * np.pi * np.arange(1, HARMONICS + 1)
    waves = _waves(passed)
    scale = 2 * step_rad / lasted
    speed = scale * _complex(waves.sum(axis=0)).conj()
    speed_by = -scale * turning[:, None] * _complex(waves.T @ passed_by).conj()
    speed_by -= speed[:, None] * (lasted_by / lasted)
    # torque = i w J(w) y, w = 2 pi k / T
    per_apparent = turning * (inertia / lasted) * speed
    force = per_apparent * apparent
    force_by = (turning * (inertia / lasted) * apparent)[:, None] * speed_by
    force_by -= force[:, None] * (lasted_by / lasted)
    onto = _projection(passed.size)
    onto_waves = onto @ waves
    steeper = waves @ _real(force * turning)
    return Reaction(
        pulls=onto_waves @ _real(force),
        pulls_by=onto_waves @ _real(force_by) + (onto * steeper) @ passed_by,
        pulls_by_apparent=_complex(onto_waves.T).T * per_apparent,
    )


def _waves(passed: Floats) -> Floats:
    """Return cosines and then sines of each harmonic at shares of the cycle, (N, 2 HARMONICS)."""
    once = np.exp(2j * np.pi * passed)
    turned = np.empty((HARMONICS, passed.size), dtype=np.complex128)
    turned[0] = once
    for i in range(1, HARMONICS):
        np.multiply(turned[i - 1], once, out=turned[i])
    return np.concatenate((turned.real, turned.imag)).T


def _complex(both: Floats) -> Complexes:
    """Return sums with cosines and sines as those with exp(i angle)."""
    return np.asarray(both[:HARMONICS] + 1j * both[HARMONICS:])


def _real(lines: Complexes) -> Floats:
    """Return what cosines and sines are to be taken by for the real part of waves times lines."""
    return np.concatenate((lines.real, -lines.imag))
