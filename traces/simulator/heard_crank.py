"""The sound of an engine being cranked, as a telephone hears it.

A starter's load goes up with each compression: its noise and its gears grow louder and the crank
slower. Body panels ring, valves tick, a shop is heard in the background, and a telephone turns
its level down when it is loud. Loudness as a power of torque is our own guess.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

RATE_HZ = 16_000
_STEP_HZ = 500
_RUN_UP_S = 0.15


@dataclass(frozen=True, slots=True)
class HeardCrank:
    """A cranking sound and its truth.

    Parameters
    ----------
    samples
        From -1 to 1, `RATE_HZ` a second.
    rpm
        Mean speed.
    """

    samples: NDArray[np.float64]
    rpm: float


def heard_crank(
    rng: np.random.Generator,
    compressions: NDArray[np.float64],
    rpm: float,
    seconds: float,
    *,
    noise_db: float = 10.0,
    is_levelled: bool = False,
) -> HeardCrank:
    """Draw an engine, a room and a telephone, and record a crank.

    Parameters
    ----------
    rng
        Where all that is not entered comes from.
    compressions
        Relative compression in firing sequence.
    rpm, seconds
        Speed wanted, and how long it is cranked after half a second of background.
    noise_db
        How far the background lies under the crank.
    is_levelled
        Whether the telephone turns its level down when it is loud.
    """
    torque, turned = _torque(rng, compressions, rpm, seconds)
    torque_at, angle = (_at_rate(v) for v in (torque, turned))
    noise = rng.standard_normal(torque_at.size)
    gears = rng.uniform((90.0, 180.0, 300.0), (110.0, 230.0, 400.0))
    tones = sum(np.sin(angle * gear + rng.uniform(0.0, 6.0)) for gear in gears)
    sound = torque_at ** rng.uniform(0.6, 1.5) * (0.5 * noise + 0.3 * tones)
    for _ in range(3):
        sound = sound + _ringing(sound, rng.uniform(300.0, 3500.0))
    sound += _ticks(rng, angle, float(np.std(sound)))
    lead = rng.standard_normal(RATE_HZ // 2 + sound.size)
    background = lfilter([1.0], [1.0, -0.9], lead)
    background *= np.std(sound) / np.std(background) * 10.0 ** (-noise_db / 20.0)
    background[RATE_HZ // 2 :] += sound
    if is_levelled:
        background = _levelled(background)
    rpm_mean = (turned[-1] - turned[0]) / (turned.size / _STEP_HZ) * 60.0 / (2.0 * np.pi)
    return HeardCrank(0.8 * background / np.abs(background).max(), float(rpm_mean))


def _torque(
    rng: np.random.Generator, compressions: NDArray[np.float64], rpm: float, seconds: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return torque over its mean and the crank's angle in radians, `_STEP_HZ` a second."""
    swell, gives, lift = rng.uniform((0.35, 0.3, 0.0), (0.9, 0.7, 0.25))
    width, drift = rng.uniform((0.16, -0.08), (0.24, 0.02))
    count, steps = compressions.size, int(seconds * _STEP_HZ)
    # the crank runs faster into the compression after a low one
    heights = compressions * (1.0 + lift * (1.0 - np.roll(compressions, 1)))
    angle = rng.uniform(0.0, 4.0 * np.pi)
    torque, turned = np.empty(steps), np.empty(steps)
    for i in range(steps):
        at = angle * count / (4.0 * np.pi)
        beside = np.floor(at) + np.array([-1.0, 0.0, 1.0])
        humps = np.exp(-0.5 * ((at - beside - 0.5) / width) ** 2)
        load = 0.75 + swell * float((heights[beside.astype(int) % count] * humps).sum())
        run_up = 1.0 - np.exp(-i / _STEP_HZ / _RUN_UP_S)
        speed = rpm * np.pi / 30.0 * (1.0 + drift * i / steps) * (1.0 - gives * (load - 1.0))
        angle += (speed * run_up + 1.0) / _STEP_HZ
        torque[i], turned[i] = load * (2.0 - run_up), angle
    return torque, turned


def _at_rate(values: NDArray[np.float64]) -> NDArray[np.float64]:
    wanted = np.arange(values.size * RATE_HZ // _STEP_HZ) / RATE_HZ
    return np.interp(wanted, np.arange(values.size) / _STEP_HZ, values)


def _ringing(sound: NDArray[np.float64], at_hz: float) -> NDArray[np.float64]:
    near = 0.97
    turn = 2.0 * np.cos(2.0 * np.pi * at_hz / RATE_HZ)
    return np.asarray(5.0 * lfilter([1.0 - near], [1.0, -near * turn, near**2], sound))


def _ticks(
    rng: np.random.Generator, angle: NDArray[np.float64], level: float
) -> NDArray[np.float64]:
    """Return the valves: each ticks once in an engine cycle."""
    cycle = angle / (4.0 * np.pi) % 1.0
    ticks = np.zeros(angle.size)
    for at in rng.uniform(0.0, 1.0, rng.integers(0, 4)):
        away = np.minimum(np.abs(cycle - at), 1.0 - np.abs(cycle - at))
        loud = rng.uniform(0.0, 0.25) * level
        ticks += loud * np.exp(-((away / 0.01) ** 2)) * rng.standard_normal(angle.size)
    return ticks


def _levelled(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    slow = 1.0 / (0.3 * RATE_HZ)
    level = np.sqrt(lfilter([slow], [1.0, slow - 1.0], sound**2))
    return np.asarray(sound / (level + 0.3 * np.std(sound)) ** 0.7)
