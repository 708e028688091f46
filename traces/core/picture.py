"""The evidence picture: a few cycles of current, each hump named, the low ones marked."""

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from traces.core.results import Call, Hump, Report

Floats = NDArray[np.float64]

WIDTH = 480
_CURVE_HEIGHT = 200
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 8, 46, 60
_FLAT_BAND, _UPRIGHT_BAND = 18, 60  # room for the words under the humps
_MOST_HUMPS = 9
_MOST_CYCLES = 3
_WORD_NEEDS = 50
"""Drawing units that the word “suspect” needs when it lies flat."""

_HATCHES: dict[Call, str] = {"suspect": "close", "watch": "wide", "sound": ""}


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis: where, and what it says."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class HumpMark:
    """One hump: its name over it, and for a low one the hatched patch and the word.

    Parameters
    ----------
    x
        Of the hump's top.
    name_y
        Of its name, over the hump.
    name
        Cylinder number, or place in the firing sequence where numbers are not known.
    word
        The call's word; empty for a sound one.
    hatch
        `close`, `wide` or empty.
    patch
        Outline of the area under the curve, as a path; empty for a sound one.
    """

    x: float
    name_y: float
    name: str
    word: str
    hatch: str
    patch: str


@dataclass(frozen=True, slots=True)
class Picture:
    """All of the drawing in drawing units; a template only writes it down.

    `base` is the curve's floor, `ticks_y` the time axis under the words of low humps.
    `cylinders_known` tells whether names are cylinder numbers, `words_upright` that the humps
    stand too close for words that lie flat.
    """

    width: int
    height: int
    left: int
    right: int
    top: int
    base: int
    ticks_y: int
    curve: str
    humps: tuple[HumpMark, ...]
    sync_x: tuple[float, ...]
    amps: tuple[Tick, ...]
    times: tuple[Tick, ...]
    cylinders_known: bool
    words_upright: bool
    from_s: float
    to_s: float
    axis: str
    words: str
    """What the picture shows, for those who do not see it."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Which part of the recording the picture shows."""

    from_s: float
    to_s: float
    humps: tuple[Hump, ...]


def evidence_stretch(report: Report) -> Stretch | None:
    """Return the one to three whole cycles from the middle of the judged span to show.

    None when the report names no humps: there is nothing to point at then.
    """
    humps = sorted(report.humps, key=lambda h: h.at_s)
    positions = len({h.position for h in humps})
    if positions == 0 or len(humps) < 2:
        return None
    cycles = min(_MOST_CYCLES, max(1, _MOST_HUMPS // positions))
    first = _first_of_middle(humps, positions, cycles)
    shown = humps[first : first + cycles * positions]
    half_gap_s = float(np.median(np.diff([h.at_s for h in humps]))) / 2
    return Stretch(shown[0].at_s - half_gap_s, shown[-1].at_s + half_gap_s, tuple(shown))


def _first_of_middle(humps: list[Hump], positions: int, cycles: int) -> int:
    """Return the index of the hump to begin with: a first position, near the middle."""
    wanted = max(0, (len(humps) - cycles * positions) // 2)
    starts = [i for i, h in enumerate(humps) if h.position == humps[0].position]
    starts = [i for i in starts if i + cycles * positions <= len(humps)] or [0]
    firsts = [i for i, h in enumerate(humps) if h.position == 1]
    firsts = [i for i in firsts if i + cycles * positions <= len(humps)]
    return min(firsts or starts, key=lambda i: abs(i - wanted))


def evidence_picture(
    report: Report,
    stretch: Stretch,
    times_s: Floats,
    current_a: Floats,
    *,
    marked: Collection[int] | None = None,
    axis: str = "clamp current in amps",
    name: str = "Cranking current",
) -> Picture:
    """Draw a stretch of cranking current, or of another signal whose humps stand upwards.

    Parameters
    ----------
    report
        Of the analysis.
    stretch
        What `evidence_stretch` chose.
    times_s, current_a
        Shape (samples,): the current of at least the stretch, cranking positive, in amps.
    marked
        Cylinders to mark as suspect instead of what the report calls low, where a person
        decided otherwise.
    axis, name
        What the curve is: the axis in words, and the signal for those who do not see it.

    Raises
    ------
    ValueError
        If fewer than two samples lie in the stretch.
    """
    inside = (times_s >= stretch.from_s) & (times_s <= stretch.to_s) & np.isfinite(current_a)
    times_s, current_a = times_s[inside], current_a[inside]
    if times_s.size < 2:
        raise ValueError("the stretch holds no curve")
    low_a, high_a = float(current_a.min()), float(current_a.max())
    ticks_a = list(ticks_between(low_a, high_a, 5))
    step_a = ticks_a[1] - ticks_a[0] if len(ticks_a) > 1 else max(high_a - low_a, 1.0)
    floor_a, roof_a = low_a - 0.25 * step_a, high_a + 0.1 * step_a
    base = _TOP + _CURVE_HEIGHT
    upright = (WIDTH - _LEFT - _RIGHT) / len(stretch.humps) < _WORD_NEEDS

    def x_of(time_s: float) -> float:
        share = (time_s - stretch.from_s) / (stretch.to_s - stretch.from_s)
        return round(_LEFT + share * (WIDTH - _LEFT - _RIGHT), 1)

    def y_of(amps: float) -> float:
        return round(base - (amps - floor_a) / (roof_a - floor_a) * (base - _TOP), 1)

    points = [(x_of(float(t)), y_of(float(a))) for t, a in zip(times_s, current_a, strict=True)]
    calls = _calls(report, marked)
    humps = tuple(
        mark_hump(
            hump,
            calls.get(hump.position, "sound"),
            hump_x=x_of(hump.at_s),
            span_x=(x_of(from_s), x_of(to_s)),
            points=points,
            base=base,
        )
        for hump, (from_s, to_s) in zip(
            stretch.humps, _edges(stretch, times_s, current_a), strict=True
        )
    )
    band = 0
    if any(h.word for h in humps):
        band = _UPRIGHT_BAND if upright else _FLAT_BAND
    return Picture(
        width=WIDTH,
        height=base + band + _BOTTOM,
        left=_LEFT,
        right=WIDTH - _RIGHT,
        top=_TOP,
        base=base,
        ticks_y=base + band,
        curve="M" + "L".join(f"{x:g} {y:g}" for x, y in points),
        humps=humps,
        sync_x=tuple(x_of(t) for t in report.sync_events_s if stretch.from_s <= t <= stretch.to_s),
        amps=tuple(Tick(y_of(a), f"{a:g}") for a in ticks_a if floor_a <= a <= roof_a),
        times=tuple(
            Tick(x_of(t), f"{t:g}") for t in ticks_between(stretch.from_s, stretch.to_s, 5)
        ),
        cylinders_known=report.cylinders_known,
        words_upright=upright,
        from_s=stretch.from_s,
        to_s=stretch.to_s,
        axis=axis,
        words=_words(report, humps, name),
    )


def _calls(report: Report, marked: Collection[int] | None) -> dict[int, Call]:
    """Return the call of every position."""
    if marked is None:
        return {e.position: e.call for e in report.estimates}
    return {e.position: "suspect" if e.cylinder in marked else "sound" for e in report.estimates}


def _edges(stretch: Stretch, times_s: Floats, current_a: Floats) -> Iterator[tuple[float, float]]:
    """Yield where each hump begins and ends: in the valleys to its neighbours."""
    valleys = []
    for before, after in pairwise(stretch.humps):
        between = np.flatnonzero((times_s > before.at_s) & (times_s < after.at_s))
        if between.size:
            valleys.append(float(times_s[between[int(np.argmin(current_a[between]))]]))
        else:
            valleys.append((before.at_s + after.at_s) / 2)
    yield from pairwise([stretch.from_s, *valleys, stretch.to_s])


def mark_hump(
    hump: Hump,
    call: Call,
    *,
    hump_x: float,
    span_x: tuple[float, float],
    points: list[tuple[float, float]],
    base: int,
) -> HumpMark:
    """Return a hump's name, and for a low one its hatched patch and its word.

    Parameters
    ----------
    hump_x
        Where its top is due, in drawing units.
    span_x
        From valley to valley.
    points
        The curve, in drawing units.
    base
        The curve's floor.
    """
    left, right = span_x
    under = [(x, y) for x, y in points if left <= x <= right]
    x, top = _top_of(under, hump_x) if under else (hump_x, float(_TOP))
    patch = ""
    if call != "sound" and under:
        outline = "L".join(f"{px:g} {py:g}" for px, py in under)
        patch = f"M{under[0][0]:g} {base}L{outline}L{under[-1][0]:g} {base}Z"
    return HumpMark(
        x=round(x, 1),
        name_y=round(top - 8, 1),
        name=str(hump.position if hump.cylinder is None else hump.cylinder),
        word="" if call == "sound" else call,
        hatch=_HATCHES[call],
        patch=patch,
    )


def _top_of(under: list[tuple[float, float]], hump_x: float) -> tuple[float, float]:
    """Return the top of a hump; one that drowns in a neighbour's flank has none of its own."""
    top = min(range(len(under)), key=lambda i: under[i][1])
    if top in (0, len(under) - 1):
        return min(under, key=lambda p: abs(p[0] - hump_x))
    return under[top]


def ticks_between(low: float, high: float, about: int) -> Iterator[float]:
    """Yield round numbers from `low` to `high`."""
    span = high - low
    if not span > 0:
        yield low
        return
    rough = span / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * s for s in (1, 2, 5, 10) if power * s >= rough * 0.999)
    digits = max(0, -math.floor(math.log10(step)))
    for i in range(math.ceil(low / step), math.floor(high / step) + 1):
        yield round(i * step, digits)


def _words(report: Report, humps: tuple[HumpMark, ...], name: str) -> str:
    what = "cylinder" if report.cylinders_known else "place"
    marked = sorted({(h.name, h.word) for h in humps if h.word})
    if not marked:
        return f"{name} over time; no hump is marked low"
    told = ", ".join(f"{what} {name} {word}" for name, word in marked)
    return f"{name} over time; marked: {told}"
