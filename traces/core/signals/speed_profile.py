"""The twin seen through a crank sensor: how long each tooth takes over an engine cycle.

Energy balance by crank angle: d(w^2 / 2) / da x J = motor torque(w) - friction - gas torque, which
the twin's drive marches already, one-way clutch included. Here its crank speed is turned into the
tooth times that a wheel would show, so that the same fit can be held against them. Reading
compressions from crank speed: US 6,055,852.
"""

from dataclasses import dataclass, field

import numpy as np

from traces.core.twin import SIGMA, STEPS, Orbit, Profile
from traces.core.waveform import Floats

GAIN = 3.0
"""Slowness counts this many times. A starter's current swings so many times more than its speed
(s = 1 - I / I_stall, cranking at a fourth of the stall current), and the fit's idea of how well
a trace can be hit is in currents."""

_ALIKE = 0.01
_LEAST_ALIKE = 6
_FIFTH = float(np.sqrt(252.0))
_UNKNOWN_DEG = 0.1
_LEAST_DEG = 0.002

_STEP_RAD = 4 * np.pi / STEPS
_STEP_DEG = 720.0 / STEPS


def shown(durations_s: Floats, widths_deg: Floats) -> Floats:
    """Return tooth times of whole engine cycles as the profile counts them.

    Parameters
    ----------
    durations_s
        Shape (..., teeth): from edge to edge.
    widths_deg
        Crank angle between the edges, shape (teeth,), 720 together.

    Returns
    -------
    Floats
        1 where the tooth passes at the cycle's mean speed, more where it is slow.
    """
    share = durations_s / durations_s.sum(axis=-1, keepdims=True)
    return np.asarray(1 + _gain(widths_deg) * (share * 720.0 / widths_deg - 1), dtype=np.float64)


def slowness_of(values: Floats, widths_deg: Floats) -> Floats:
    """Return what `shown` was made from: time by crank angle over the cycle's mean."""
    return np.asarray(1 + (values - 1) / _gain(widths_deg), dtype=np.float64)


def _gain(widths_deg: Floats) -> float:
    """Return the gain that makes any number of teeth weigh like the twin's own points."""
    return GAIN * float(np.sqrt(STEPS / widths_deg.size))


def spacing_error_deg(slowness: Floats, widths_deg: Floats) -> float:
    """Return the standard deviation of tooth places, from how ragged a mean cycle is.

    A fourth difference leaves nothing of a speed that runs on smoothly; of errors in place,
    which widths show as first differences, it leaves their fifth: 252 times the variance.

    Parameters
    ----------
    slowness
        Mean time by angle, shape (teeth,).
    widths_deg
        Shape (teeth,); only stretches of equal teeth count.
    """
    rough = np.zeros_like(slowness)
    alike = np.ones(slowness.size, dtype=np.bool_)
    for weight, shift in zip((1.0, -4.0, 6.0, -4.0, 1.0), range(-2, 3), strict=True):
        rough += weight * np.roll(slowness, shift)
        alike &= np.abs(np.roll(widths_deg, shift) / widths_deg - 1) < _ALIKE
    if alike.sum() < _LEAST_ALIKE:
        return _UNKNOWN_DEG
    width_deg = float(np.median(widths_deg[alike]))
    return 1.4826 * float(np.median(np.abs(rough[alike]))) / _FIFTH * width_deg


def whitening(widths_deg: Floats, spacing_deg: float) -> Floats:
    """Return what makes errors of `shown` independent and as large as the fit expects.

    A tooth out of place makes the width before it longer and the one after it shorter, in both
    turns of an engine cycle alike: what differs between the turns is therefore trusted most.

    Parameters
    ----------
    widths_deg
        Shape (teeth,) of a whole cycle, two turns of the same wheel.
    spacing_deg
        Standard deviation of a tooth's place.
    """
    teeth = widths_deg.size
    rows = np.arange(teeth)
    places = np.zeros((teeth, teeth // 2))
    places[rows, rows % (teeth // 2)] -= 1.0
    places[rows, (rows + 1) % (teeth // 2)] += 1.0
    places *= (_gain(widths_deg) * max(spacing_deg, _LEAST_DEG) / widths_deg)[:, None]
    covariance = SIGMA**2 * np.eye(teeth) + places @ places.T
    inverse = np.linalg.inv(np.linalg.cholesky(covariance))
    return np.asarray(SIGMA * inverse, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class SpeedProfile(Profile):
    """A mean engine cycle of tooth times.

    Parameters
    ----------
    current
        `shown` less 1, whitened, shape (teeth,).
    widths_deg
        Crank angle of each, shape (teeth,).
    whiten
        From `whitening`, shape (teeth, teeth).
    """

    widths_deg: Floats = field(default_factory=lambda: np.empty(0))
    whiten: Floats = field(default_factory=lambda: np.empty((0, 0)))

    def observe(self, orbit: Orbit, response: Floats, values: Floats) -> tuple[Floats, Floats]:
        """Return the tooth times of an orbit as the profile counts them, and their slopes.

        Parameters
        ----------
        orbit
            Squared speeds over a cycle.
        response
            Their change by parameter, shape (STEPS + 1, 2, P).
        values
            Not needed: speed shows itself.
        """
        del values
        speed = np.sqrt(orbit.crank_sq)
        pace = speed[:-1] + speed[1:]
        lasted = 2 * _STEP_RAD / pace
        pace_by = response[:, 1, :] / (2 * speed)[:, None]
        lasted_by = (-lasted / pace)[:, None] * (pace_by[:-1] + pace_by[1:])
        parts = self._parts()
        share = parts @ lasted / lasted.sum()
        share_by = (parts @ lasted_by - share[:, None] * lasted_by.sum(axis=0)) / lasted.sum()
        scale = _gain(self.widths_deg) * 720.0 / self.widths_deg
        current = self.whiten @ (scale * share - _gain(self.widths_deg))
        return current, self.whiten @ (scale[:, None] * share_by)

    def slowness(self, orbit: Orbit) -> Floats:
        """Return the fitted time by crank angle over the cycle's mean, shape (teeth,)."""
        speed = np.sqrt(orbit.crank_sq)
        lasted = 1 / (speed[:-1] + speed[1:])
        share = self._parts() @ lasted / lasted.sum()
        return np.asarray(share * 720.0 / self.widths_deg, dtype=np.float64)

    def _parts(self) -> Floats:
        """Return how much of each of the twin's steps lies in each tooth, (teeth, STEPS)."""
        ends = np.concatenate(([0.0], np.cumsum(self.widths_deg)))
        steps = np.arange(STEPS + 1) * _STEP_DEG
        upto = np.clip((ends[:, None] - steps[:-1]) / _STEP_DEG, 0.0, 1.0)
        return np.asarray(np.diff(upto, axis=0), dtype=np.float64)
