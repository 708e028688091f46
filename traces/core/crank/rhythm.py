"""The length of an engine cycle, from current and sync together.

Alike cylinders repeat after each hump, so that the current alone may take a part of a cycle, or
two, for one; a sync may miss events, or show its neighbours. So no sign decides by itself: every
length that any of them suggests is a hypothesis, and the one that all together like best wins.
"""

from dataclasses import dataclass

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from numpy.typing import NDArray

from engines.core.firing import CYCLE_DEG
from traces.core.compression import lobe_mix
from traces.core.crank.cycles import (
    FASTEST_RPM,
    SLOWEST_RPM,
    Repeats,
    count_cycles,
    cycle_from_current,
    levelled,
    repeats_of,
    unusual,
)
from traces.core.setup import AnalysisSetup
from traces.core.sync import Beat, Pulses, beat_of
from traces.core.waveform import Floats

_LINE_SHARE = 0.1
_SAME = 0.012  # of a length: nearer ones are one hypothesis
_SAME_BY_SYNC, _SMALL_PART = 0.04, 3.5
"""The same of a half or a third of a length: where speed falls, events seen in other cycles than
the humps put it so far off."""

_PEAKS = 4
_SPECTRUM_POINTS = 8192
_PEAKS_HZ = (1.0, 60.0)
_LEAST_SHARE = 1e-4
_CLEAREST = 4.0  # of the log of a ratio: more says no more

# What a hypothesis is worth, in natural logarithms. Weights from 896 simulated captures with
# and without sync, rounded; they tell all of those apart, and so do weights half or twice these.
_OWN_OVER_FINER = 1.0
_OWN_SHARE = 2.5
_LIKENESS = 10.0
_USUAL_SPEED = 0.75
_OWN_OVER_BESIDE = 1.0
_BEAT = 4.0
_MISSED = 1.0

_STANDS_OUT = 9.0
"""Power of the humps' lines over what chance makes of them: their spread from cycle to cycle."""

_REPEATS = 0.5
_CLEAR_OF_BESIDE = 1.0
_AGREES = 0.5  # share of the best hypothesis' beat; a wrong number of cylinders has under half
_KEEPS = 0.8
_KEEPS_LEAST = 0.44  # of pairs: less is chance
_ENOUGH_PULSES = 4
_MOSTLY = 0.6
_FINER = 1.5
_TWIN = 2
_HALF_MORE = 0.25  # of the pairs of events: those an odd number of turns apart


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """How often in a cycle the current rises and falls.

    Parameters
    ----------
    powers
        Power at 1 to 3 n times a cycle, shape (3 n,), of the mean cycle.
    chance
        What the spread between cycles alone would leave there, same shape.
    humps
        Which of them alike cylinders would make, same shape: one with even spacing, more where
        firings are unevenly spaced.
    cycles
        How many whole cycles were averaged.
    """

    powers: Floats
    chance: Floats
    humps: NDArray[np.bool_]
    cycles: int

    @property
    def hump_power(self) -> float:
        """Power of the humps' own lines."""
        return float(self.powers[self.humps].sum())

    @property
    def finer_power(self) -> float:
        """Largest power of a line finer than the humps and not a multiple of them."""
        count = self.powers.size // 3
        number = np.arange(1, self.powers.size + 1)
        finer = (number > count) & ~self.humps & (number % count != 0)
        return float(self.powers[finer].max()) if finer.any() else 0.0

    @property
    def most_often(self) -> int:
        """The number of rises in a cycle that shows most among those from 2 on."""
        return int(np.argmax(self.powers[1:])) + 2

    def over(self, other: float) -> float:
        """Return the log of the humps' power over another."""
        least = _LEAST_SHARE * float(self.powers.max()) + 1e-30
        ratio = np.log((self.hump_power + least) / (other + least))
        return float(np.clip(ratio, -_CLEAREST, _CLEAREST))

    @property
    def over_beside(self) -> float:
        """Log of the humps' power over that of the lines on both sides of theirs."""
        count = self.powers.size // 3
        if self.humps.sum() > 1:
            return self.over(self.finer_power)
        return self.over(float(self.powers[[max(count - 2, 0), count]].mean()))


@dataclass(frozen=True, slots=True, eq=False)
class Rhythm:
    """What repeats in a stretch of cranking.

    Parameters
    ----------
    cycle_s
        Length of an engine cycle; None where nothing suggests one.
    seen
        Whether humps stand clear of chance at that length.
    agrees
        Whether the sync events keep to it; True where there are too few to tell.
    finer
        A larger number of humps a cycle that shows more than that of the engine entered.
    hump_a, swing_a
        Amplitude of the humps' lines, and of all lines of the mean cycle.
    ripple_a
        Spread of the current about its slow course, like a standard deviation.
    """

    cycle_s: float | None
    seen: bool
    agrees: bool
    finer: int | None
    hump_a: float
    swing_a: float
    ripple_a: float


@dataclass(frozen=True, slots=True, eq=False)
class _Evidence:
    """What speaks for one length of the cycle or another."""

    level_a: Floats
    rate_hz: float
    setup: AnalysisSetup
    pulses: Pulses | None
    repeats: Repeats
    humps: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class _Hypothesis:
    cycle_s: float
    lines: Lines
    beat: Beat | None
    score: float


def find_rhythm(
    current_a: Floats, rate_hz: float, setup: AnalysisSetup, pulses: Pulses | None
) -> Rhythm:
    """Find the engine's cycle in a stretch of cranking.

    Parameters
    ----------
    current_a
        Shape (samples,), inrush and run-up left out.
    setup
        For the number of cylinders and how often the sync comes.
    pulses
        Of the sync channel; None where there is none.
    """
    level_a = levelled(current_a, rate_hz)
    ripple_a = 1.4826 * float(np.median(np.abs(level_a - np.median(level_a))))
    repeats = repeats_of(level_a, rate_hz)
    known = _Evidence(level_a, rate_hz, setup, pulses, repeats, _hump_lines(setup))
    found = [h for cycle_s in _suggested(known) if (h := _weighed(cycle_s, known))]
    if not found:
        return Rhythm(None, False, True, None, 0.0, 0.0, ripple_a)
    shown = max(found, key=lambda h: h.score)
    best = _once_a_cycle(shown, found, known)
    lines = best.lines
    clear = lines.over_beside > _CLEAR_OF_BESIDE or repeats.at(best.cycle_s) > _REPEATS
    out = lines.hump_power > _STANDS_OUT * float(lines.chance[lines.humps].sum())
    # a lone hump has all multiples of its rhythm in it
    finer = best is shown and lines.finer_power > _FINER * lines.hump_power
    return Rhythm(
        cycle_s=best.cycle_s,
        seen=bool(clear and (out or lines.cycles < 3)),
        agrees=_agrees(best, found, known),
        finer=lines.most_often if finer else None,
        hump_a=float(np.sqrt(lines.hump_power)),
        swing_a=float(np.sqrt(lines.powers.sum())),
        ripple_a=ripple_a,
    )


def _once_a_cycle(best: _Hypothesis, found: list[_Hypothesis], known: _Evidence) -> _Hypothesis:
    """Return the cycle of a twin that shows one hump a sync event: one cylinder may be dead.

    Two sound cylinders that fire 360 degrees apart make two humps in a cycle of twice the length;
    where the sync is said to come once a cycle, the likelier speed decides between the two.
    """
    setup = known.setup
    order, sync = setup.firing_order, setup.sync
    if len(order) != _TWIN or not order.is_even or sync is None or sync.every_deg != CYCLE_DEG:
        return best
    half_s = best.cycle_s / 2
    halves = [h for h in found if abs(np.log(h.cycle_s / half_s)) < 2 * _SAME and h.beat]
    if not halves or best.beat is None:
        return best
    half = max(halves, key=lambda h: h.score)
    events_keep = half.beat is not None and half.beat.share > best.beat.share + _HALF_MORE
    likelier = abs(unusual(120.0 / half.cycle_s)) < abs(unusual(120.0 / best.cycle_s))
    return half if events_keep and likelier else best


def _suggested(known: _Evidence) -> list[float]:
    """Return lengths of a cycle that sync, spectrum or repetition suggest, in seconds."""
    setup, level_a, rate_hz = known.setup, known.level_a, known.rate_hz
    cylinders = len(setup.firing_order)
    suggested: list[float] = []
    if known.pulses is not None and setup.sync is not None:
        for apart_s in known.pulses.periods_s():
            cycle_s = apart_s * CYCLE_DEG / setup.sync.every_deg
            suggested += [cycle_s, 2 * cycle_s, cycle_s / 2]
    power = np.abs(np.fft.rfft(level_a * np.hanning(level_a.size), _SPECTRUM_POINTS)) ** 2
    often_hz = np.fft.rfftfreq(_SPECTRUM_POINTS, 1 / rate_hz)
    peaks, _ = scipy.signal.find_peaks(power)
    peaks = peaks[(often_hz[peaks] > _PEAKS_HZ[0]) & (often_hz[peaks] < _PEAKS_HZ[1])]
    for peak in peaks[np.argsort(-power[peaks], kind="stable")][:_PEAKS]:
        suggested += [times / float(often_hz[peak]) for times in (cylinders, cylinders / 2, 1)]
    alone_s = cycle_from_current(level_a, rate_hz, cylinders, known.repeats)
    suggested += [alone_s] if alone_s else []
    kept: list[float] = []
    for cycle_s in suggested:
        possible = SLOWEST_RPM <= 120.0 / cycle_s <= FASTEST_RPM
        if possible and all(abs(np.log(cycle_s / other_s)) > _SAME for other_s in kept):
            kept.append(cycle_s)
    return kept


def _weighed(cycle_s: float, known: _Evidence) -> _Hypothesis | None:
    lines = _lines(known.level_a, known.rate_hz, cycle_s, known.humps)
    if lines is None:
        return None
    score = (
        _OWN_OVER_FINER * lines.over(lines.finer_power)
        + _OWN_SHARE * np.log(lines.hump_power / max(float(lines.powers.sum()), 1e-30) + 0.005)
        + _LIKENESS * (known.repeats.at(cycle_s) - known.repeats.best)
        - _USUAL_SPEED * unusual(120.0 / cycle_s) ** 2
        + _OWN_OVER_BESIDE * lines.over_beside
    )
    beat = None
    if known.pulses is not None and known.setup.sync is not None:
        beat = beat_of(known.pulses, cycle_s * known.setup.sync.every_deg / CYCLE_DEG)
    if beat is not None:
        score += _BEAT * np.log(beat.share + 0.03) + _MISSED * np.log(max(beat.present, 0.05))
    return _Hypothesis(cycle_s, lines, beat, float(score))


def _agrees(best: _Hypothesis, found: list[_Hypothesis], known: _Evidence) -> bool:
    """Return whether the sync keeps to the best cycle: once in it, twice, or at every firing.

    Twice may be a sync every 360 degrees, and at every firing a pick-up that hears all alike;
    those are told from each other where the events are read. A sync that keeps to another
    length than the humps of the engine entered says that the engine is another.
    """
    if best.beat is None or known.setup.sync is None or known.pulses is None:
        return True
    # parts of a cycle catch more pairs by chance, and say nothing against it
    others = [h for h in found if not _is_part(h.cycle_s, best.cycle_s)]
    strongest = max((h.beat.share for h in others if h.beat), default=0.0)
    if known.pulses.times_s.size < _ENOUGH_PULSES or strongest < _KEEPS_LEAST:
        return True
    if best.beat.share >= _AGREES * strongest:
        return True
    period_s = best.cycle_s * known.setup.sync.every_deg / CYCLE_DEG
    for times in (2, len(known.setup.firing_order)):
        beat = beat_of(known.pulses, period_s / times)
        if beat and beat.share >= _KEEPS * strongest and beat.present >= _MOSTLY:
            return True
    return False


def _is_part(length_s: float, whole_s: float) -> bool:
    times = whole_s / length_s
    within = _SAME_BY_SYNC if times < _SMALL_PART else 2 * _SAME
    return times > 1.5 and abs(times / round(times) - 1.0) < within


def _lines(level: Floats, rate_hz: float, cycle_s: float, humps: NDArray[np.bool_]) -> Lines | None:
    """Average whole cycles of a length that follows the speed, and take their spectrum."""
    cylinders = humps.size // 3
    count = count_cycles(level, rate_hz, cycle_s, cylinders)
    cycles = int(count[-1])
    if cycles < 1:
        return None
    window = max(3, round(cycle_s * rate_hz))
    flat = level - scipy.ndimage.uniform_filter1d(level, window, mode="nearest")
    points = max(6 * cylinders, 48)
    first = float(count[-1]) - cycles
    at = first + np.arange(cycles)[:, None] + np.arange(points) / points
    folded = np.interp(at, count, flat)
    waves = np.fft.rfft(folded, axis=1)[:, 1 : humps.size + 1] * 2 / points
    mean = waves.mean(axis=0)
    spread = (np.abs(waves - mean) ** 2).sum(axis=0) / max(cycles - 1, 1) / cycles
    return Lines(np.abs(mean) ** 2, spread, humps, cycles)


def _hump_lines(setup: AnalysisSetup) -> NDArray[np.bool_]:
    cylinders = len(setup.firing_order)
    if setup.firing_order.is_even:
        return np.asarray(np.arange(1, 3 * cylinders + 1) == cylinders)
    cycle = lobe_mix(setup.firing_order, setup.fuel).single.sum(axis=0)
    powers = np.abs(np.fft.rfft(cycle)[1 : 3 * cylinders + 1]) ** 2
    return np.asarray(powers >= _LINE_SHARE * powers.max())
