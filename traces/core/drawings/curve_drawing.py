"""What the drawings of curves share: edges, both scales, ticks, valleys, room for words."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shopdiag.people.core.numerals import signed

Floats = NDArray[np.float64]
Points = list[tuple[float, float]]

WIDTH = 480
_TICKS = 5
_FLAT_BAND = 18  # room for words that lie flat under the humps


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis: where, and what it says."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class PlotFrame:
    """A drawing's edges in drawing units.

    `base` is the curve's floor, `ticks_y` the axis under the words of marked humps;
    `words_upright` tells that the humps stand too close for words that lie flat.
    """

    width: int
    height: int
    left: int
    right: int
    top: int
    base: int
    ticks_y: int
    words_upright: bool


@dataclass(frozen=True, slots=True)
class Room:
    """What a kind of drawing leaves around its curve, in drawing units.

    `words` is the height of its words standing upright, `word` the width of one lying flat.
    """

    left: int
    right: int
    top: int
    curve: int
    bottom: int
    words: int
    word: int

    @property
    def base(self) -> int:
        """The curve's floor."""
        return self.top + self.curve

    def frame(self, places: int, *, words: bool) -> PlotFrame:
        """Return the edges of a drawing of so many humps, with or without words under them."""
        upright = bool(places) and (WIDTH - self.left - self.right) / places < self.word
        band = (self.words if upright else _FLAT_BAND) if words else 0
        return PlotFrame(
            width=WIDTH,
            height=self.base + band + self.bottom,
            left=self.left,
            right=WIDTH - self.right,
            top=self.top,
            base=self.base,
            ticks_y=self.base + band,
            words_upright=upright,
        )


class Scales:
    """Both scales of a drawing: a little air under and over the curve, round numbers beside it.

    Parameters
    ----------
    room
        What the drawing leaves around its curve.
    across
        What stands at the left and the right edge.
    values
        All that is drawn, any shape, finite.
    """

    def __init__(self, room: Room, across: tuple[float, float], values: Floats) -> None:
        self._room = room
        self._from, self._to = across
        low, high = float(values.min()), float(values.max())
        self._steps = list(ticks_between(low, high, _TICKS))
        step = self._steps[1] - self._steps[0] if len(self._steps) > 1 else max(high - low, 1.0)
        self._floor, self._roof = low - 0.25 * step, high + 0.1 * step

    def x(self, at: float) -> float:
        """Return where something stands across."""
        share = (at - self._from) / (self._to - self._from)
        return round(self._room.left + share * (WIDTH - self._room.left - self._room.right), 1)

    def y(self, value: float) -> float:
        """Return how high a value stands; drawing units count downwards."""
        share = (value - self._floor) / (self._roof - self._floor)
        return round(self._room.base - share * self._room.curve, 1)

    def points(self, at: Floats, values: Floats) -> Points:
        """Return a curve in drawing units."""
        return [(self.x(float(a)), self.y(float(v))) for a, v in zip(at, values, strict=True)]

    def value_ticks(self) -> tuple[Tick, ...]:
        """Return the marks of the upright axis."""
        inside = (v for v in self._steps if self._floor <= v <= self._roof)
        return tuple(Tick(self.y(v), signed(f"{v:g}")) for v in inside)

    def ticks(self, places: Iterable[float]) -> tuple[Tick, ...]:
        """Return the marks of the axis across."""
        return tuple(Tick(self.x(p), signed(f"{p:g}")) for p in places)


def path_of(points: Points) -> str:
    """Return a curve as an SVG path."""
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def valleys_between(
    places: Sequence[float], ends: tuple[float, float], at: Floats, values: Floats
) -> Iterator[tuple[float, float]]:
    """Yield where each hump begins and ends: at the lowest values between two `places`."""
    valleys = []
    for before, after in pairwise(places):
        between = np.flatnonzero((at > before) & (at < after))
        if between.size:
            valleys.append(float(at[between[int(np.argmin(values[between]))]]))
        else:
            valleys.append((before + after) / 2)
    yield from pairwise([ends[0], *valleys, ends[1]])


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
