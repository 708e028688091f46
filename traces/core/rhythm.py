"""The length of an engine cycle, from current and sync together."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engines.core.firing import CYCLE_DEG
from traces.core.conditioning import Floats
from traces.core.cycles import (
    FASTEST_RPM,
    SLOWEST_RPM,
    Repeats,
    cycle_from_current,
    harmonic_powers,
    levelled,
    repeats_of,
)
from traces.core.lobes import lobe_mix
from traces.core.setup import AnalysisSetup
from traces.core.sync import Pulses

_REPEATS = 0.5
_AS_LIKE = 0.9
_HUMP_SHARE = 0.25
_CLEAR_HUMPS = 0.5
_LINE_SHARE = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class Rhythm:
    """What repeats in a stretch of cranking.

    Parameters
    ----------
    cycle_s
        Length of an engine cycle; None where nothing repeats.
    seen
        Whether the current does repeat after it, or shows the humps clearly.
    powers
        Power at 1 to 3 n times a cycle, shape (3 n,); zeros where there is no cycle.
    ripple_a
        Standard deviation of the current about its slow course.
    """

    cycle_s: float | None
    seen: bool
    powers: Floats
    ripple_a: float


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
    cylinders = len(setup.firing_order)
    lines = _hump_lines(setup)
    level = levelled(current_a, rate_hz)
    repeats = repeats_of(level, rate_hz)
    ripple_a = float(np.std(level))
    cycle_s = _cycle_length(level, rate_hz, setup, pulses, repeats)
    if cycle_s is None:
        return Rhythm(None, seen=False, powers=np.zeros(3 * cylinders), ripple_a=ripple_a)
    powers = harmonic_powers(level, rate_hz, cycle_s, 3 * cylinders)
    seen = repeats.at(cycle_s) > _REPEATS or _hump_share(powers, lines) >= _CLEAR_HUMPS
    return Rhythm(cycle_s, seen=seen, powers=powers, ripple_a=ripple_a)


def _cycle_length(
    level: Floats,
    rate_hz: float,
    setup: AnalysisSetup,
    pulses: Pulses | None,
    repeats: Repeats,
) -> float | None:
    """Return the length of a cycle from sync and current together.

    Alike cylinders repeat after each hump, so that the current alone may take two cycles for
    one; the sync may come more often than entered. The length has to agree with both.
    """
    cylinders, lines = len(setup.firing_order), _hump_lines(setup)
    alone_s = cycle_from_current(level, rate_hz, cylinders, repeats)
    if pulses is None or setup.sync is None or pulses.times_s.size < 2:
        return alone_s
    # most pulses may be neighbours leaking in: the strongest few set the measure
    strong = pulses.heights >= 0.5 * float(np.sort(pulses.heights)[-3:].mean())
    if strong.sum() < 2:
        return alone_s
    apart_s = float(np.median(np.diff(pulses.times_s[strong])))
    from_sync_s = apart_s * CYCLE_DEG / setup.sync.every_deg
    best = float(repeats.likeness.max()) if repeats.likeness.size else 0.0
    parts = [from_sync_s / part for part in (1, 2, 3)]
    choices = [*parts, 2 * from_sync_s, *([alone_s] if alone_s else [])]
    likely = [
        choice_s
        for choice_s in choices
        if SLOWEST_RPM <= 120.0 / choice_s <= FASTEST_RPM
        and (
            repeats.at(choice_s) >= _AS_LIKE * best
            # many alike humps repeat after each hump, and less after a cycle whose speed wavers
            or _hump_share(harmonic_powers(level, rate_hz, choice_s, 3 * cylinders), lines)
            >= _CLEAR_HUMPS
        )
    ]
    if not likely:
        return alone_s
    # What repeats after one cycle repeats after two, and events may be missed: take the part
    # where only that has the humps. Twice as long is never taken for the humps' sake: an
    # engine with twice as many cylinders and a sync twice as often look the same, and that is
    # for the user to say.
    shares = [
        (_hump_share(harmonic_powers(level, rate_hz, choice_s, 3 * cylinders), lines), choice_s)
        for choice_s in likely
        if choice_s in parts
    ]
    share, fitting_s = max(shares, default=(0.0, 0.0))
    chosen_s = fitting_s if share >= _HUMP_SHARE else likely[0]
    return repeats.peak_near(chosen_s, within=0.02)


def _hump_lines(setup: AnalysisSetup) -> NDArray[np.bool_]:
    """Return which lines of the spectrum alike cylinders would make, shape (3 n,).

    One with even spacing, more where firings are unevenly spaced.
    """
    cylinders = len(setup.firing_order)
    if setup.firing_order.is_even:
        return np.asarray(np.arange(1, 3 * cylinders + 1) == cylinders)
    cycle = lobe_mix(setup.firing_order, setup.fuel).single.sum(axis=0)
    powers = np.abs(np.fft.rfft(cycle)[1 : 3 * cylinders + 1]) ** 2
    return np.asarray(powers >= _LINE_SHARE * powers.max())


def _hump_share(powers: Floats, lines: NDArray[np.bool_]) -> float:
    return float(powers[lines].sum() / max(float(powers.sum()), 1e-12))
