"""Whether compressions sound alike, from a recording of how an engine is cranked."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from traces.core.cranking_sound.loudness import LEAST_RATE_HZ, loudness_of
from traces.core.cranking_sound.rhythm import (
    LEAST_RPM,
    MOST_RPM,
    Beat,
    BeatError,
    Trouble,
    find_beat,
)
from traces.core.waveform import Floats

Answer: TypeAlias = Literal["even", "uneven", "cannot-tell"]
Reason: TypeAlias = Trouble | Literal["low-rate", "silent", "noisy", "one-in-two", ""]

_POINTS = 24
_CLEARLY_LOW = 0.70
_STILL_EVEN = 0.72
"""A telephone that levels makes a compression of 0.4 sound like one of 0.7 at times."""
_CHANCE = 1e-3


@dataclass(frozen=True, slots=True)
class CrankingSound:
    """What a cranking sound tells: a hint, never a cylinder and never a figure of compression.

    Parameters
    ----------
    answer
        `even`, `uneven`, or `cannot-tell`.
    reason
        Why it cannot be told; "" where it can. `one-in-two` stands beside `even` too, where an
        engine that turns twice as fast with every other compression missing sounds the same.
    rpm
        Cranking speed; None where it cannot be told whether the engine sounds even.
    cycles
        Engine cycles that were compared.
    from_s, to_s
        Where the compared part lies; None where there is none.
    """

    answer: Answer
    reason: Reason = ""
    rpm: float | None = None
    cycles: int = 0
    from_s: float | None = None
    to_s: float | None = None


def judge_sound(samples: NDArray[np.floating], rate_hz: float, cylinders: int) -> CrankingSound:
    """Judge whether an engine sounds even while it is cranked.

    Parameters
    ----------
    samples
        Sound of one channel, any unit.
    rate_hz
        Samples a second.
    cylinders
        Of the engine, two to twelve, firing evenly.
    """
    if rate_hz < LEAST_RATE_HZ:
        return CrankingSound("cannot-tell", "low-rate")
    loudness = loudness_of(samples, rate_hz)
    if loudness.values.size and not float(loudness.values.max()) > 0.0:
        return CrankingSound("cannot-tell", "silent")
    try:
        beat = find_beat(loudness, cylinders)
    except BeatError as error:
        return CrankingSound("cannot-tell", error.trouble)
    heights = _heights(beat, cylinders)
    rpm = round(120.0 * beat.rate_hz / cylinders)
    answer, reason = _answer(heights)
    if answer == "even" and cylinders % 2 == 0 and 2.0 * rpm <= MOST_RPM:
        reason = "one-in-two"
    if answer == "uneven" and _alternates(heights) and rpm >= 2.0 * LEAST_RPM:
        answer, reason = "cannot-tell", "one-in-two"
    if answer == "cannot-tell":
        # its beat may be that of something else
        return CrankingSound(answer, reason)
    return CrankingSound(answer, reason, rpm, len(heights), beat.from_s, beat.to_s)


def _heights(beat: Beat, cylinders: int) -> Floats:
    """Return how far each compression swells, over the mean: (engine cycles, cylinders).

    Each is laid on the mean swell of all, so that noise of another shape counts little.
    """
    counted = beat.compressions
    first, last = int(np.ceil(counted[0])) + 1, int(counted[-1]) - 1
    cycles = (last - first) // cylinders
    wanted = first - 0.5 + np.arange(cycles * cylinders * _POINTS) / _POINTS
    swells = np.interp(wanted, counted, beat.swing).reshape(cycles, cylinders, _POINTS)
    mean = swells.mean(axis=(0, 1))
    mean -= mean.mean()
    around = swells - swells.mean(axis=2, keepdims=True)
    return np.asarray((around @ mean) / (mean @ mean))


def _answer(heights: Floats) -> tuple[Answer, Reason]:
    """Compare places of the engine cycle by their spread from cycle to cycle."""
    cycles, cylinders = heights.shape
    middle = np.median(heights, axis=0)
    spread = 1.4826 * np.median(np.abs(heights - middle), axis=0)
    # no place is surer than all together say
    pooled = float(np.sqrt((spread**2).mean()))
    error = 1.2533 * np.maximum(spread, pooled) / np.sqrt(cycles)
    sound = float(np.median(np.sort(middle)[cylinders // 2 :]))
    share, error = middle / sound, error / sound
    reach = float(scipy.stats.t.ppf(1.0 - _CHANCE / cylinders, cycles - 1))
    if ((share + reach * error) < _CLEARLY_LOW).any() and _halves_agree(heights):
        return "uneven", ""
    if ((share - 2.0 * error) > _STILL_EVEN).all() and float(error.max()) < 0.15:
        return "even", ""
    return "cannot-tell", "noisy"


def _halves_agree(heights: Floats) -> bool:
    """Return whether the lowest place is the same early and late in the recording."""
    half = len(heights) // 2
    early, late = (np.median(part, axis=0) for part in (heights[:half], heights[half:]))
    lowest = int(np.argmin(np.median(heights, axis=0)))
    return all(side[lowest] < 0.85 * float(np.median(side)) for side in (early, late))


def _alternates(heights: Floats) -> bool:
    """Return whether every other compression is quiet, and those alike."""
    middle = np.median(heights, axis=0)
    if middle.size % 2:
        return False
    one, other = sorted((middle[::2], middle[1::2]), key=np.median)
    return float(one.max()) < 0.85 * float(other.min())
