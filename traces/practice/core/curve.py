"""A recording as it is drawn: the lowest and highest value of each column of the picture."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from traces.core.plain_json import Decimals, PlainJson

Floats = NDArray[np.float64]
COLUMNS = 480
"""Columns of a picture; a phone shows each on about one point of its screen."""


@dataclass(frozen=True, slots=True)
class Lane(PlainJson):
    """One channel over a stretch of time: its extremes by column, None where nothing is there."""

    low: tuple[float | None, ...]
    high: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Stretch(PlainJson):
    """A part of a recording, current in amps and sync in volts."""

    from_s: Annotated[float, Decimals(4)]
    to_s: Annotated[float, Decimals(4)]
    current: Lane
    sync: Lane


@dataclass(frozen=True, slots=True)
class Hump(PlainJson):
    """Where a compression comes; `place` counts within a cycle, from 0 for A."""

    at_s: Annotated[float, Decimals(4)]
    place: int


@dataclass(frozen=True, slots=True)
class Curve(PlainJson):
    """All that is drawn of a capture before it is marked.

    Nothing in it depends on the fault but the current: humps stand where the crank angle puts them.
    """

    whole: Stretch
    part: Stretch
    humps: tuple[Hump, ...]


def lane(values: Floats, rate_hz: float, from_s: float, to_s: float, decimals: int) -> Lane:
    """Return the extremes of a channel by column.

    A column without a sample of its own, of a slow recording, holds the sample before it.
    """
    edges = np.linspace(from_s, to_s, COLUMNS + 1) * rate_hz
    first = np.floor(edges[:-1]).astype(np.intp)
    last = np.maximum(np.floor(edges[1:]).astype(np.intp), first + 1)
    low: list[float | None] = []
    high: list[float | None] = []
    for start, end in zip(first.tolist(), last.tolist(), strict=True):
        inside = values[max(start, 0) : min(end, values.size)]
        inside = inside[np.isfinite(inside)]
        low.append(round(float(inside.min()), decimals) if inside.size else None)
        high.append(round(float(inside.max()), decimals) if inside.size else None)
    return Lane(tuple(low), tuple(high))


@dataclass(frozen=True, slots=True)
class HumpDrawing:
    """A hump's band in the picture, and its letter."""

    letter: str
    place: int
    x: float
    left: float
    width: float


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of an axis with its label."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    """Two lanes one above the other in drawing units; a template writes it down."""

    width: int
    height: int
    left: int
    right: int
    top: int
    current: str
    sync: str
    base: int
    sync_top: int
    sync_base: int
    amps: tuple[Tick, ...]
    times: tuple[Tick, ...]
    humps: tuple[HumpDrawing, ...]
    shown: tuple[float, float] | None
    """Left edge and width of the stretch that another picture shows larger."""


_WIDTH = 560
_LEFT, _RIGHT = 44, 552
_GAP = 26
_SYNC_HEIGHT = 44
_BELOW = 24


def draw(
    stretch: Stretch,
    *,
    height: int,
    humps: Sequence[Hump] = (),
    names: Sequence[str] = (),
    shown: Stretch | None = None,
) -> CurveDrawing:
    """Lay a stretch out.

    Parameters
    ----------
    height
        Of the current's lane.
    humps, names
        Humps to letter; the letters by place.
    shown
        The stretch to shade.
    """
    top = 24 if humps else 8
    base = top + height
    sync_top, sync_base = base + _GAP - 14, base + _GAP - 14 + _SYNC_HEIGHT
    low, high = _limits(stretch.current)

    def x_of(at_s: float) -> float:
        share = (at_s - stretch.from_s) / (stretch.to_s - stretch.from_s)
        return round(_LEFT + share * (_RIGHT - _LEFT), 1)

    def y_of(amps: float) -> float:
        return base - (amps - low) / (high - low) * height

    bands = _bands(humps, names, [x_of(h.at_s) for h in humps])
    shade = None
    if shown is not None:
        start, end = x_of(max(shown.from_s, stretch.from_s)), x_of(min(shown.to_s, stretch.to_s))
        shade = (start, round(max(end - start, 2.0), 1))
    return CurveDrawing(
        width=_WIDTH,
        height=sync_base + _BELOW,
        left=_LEFT,
        right=_RIGHT,
        top=top,
        current=_path(stretch.current, (low, high), top, height),
        sync=_path(stretch.sync, _limits(stretch.sync), sync_top, _SYNC_HEIGHT),
        base=base,
        sync_top=sync_top,
        sync_base=sync_base,
        amps=tuple(Tick(round(y_of(v), 1), f"{v:g}") for v in _round_values(low, high, 4)),
        times=tuple(
            Tick(x_of(v), f"{v:g}") for v in _round_values(stretch.from_s, stretch.to_s, 6)
        ),
        humps=bands,
        shown=shade,
    )


def _bands(
    humps: Sequence[Hump], names: Sequence[str], xs: Sequence[float]
) -> tuple[HumpDrawing, ...]:
    """Return each hump with its band, which reaches half-way to those beside it."""
    if not humps:
        return ()
    gaps = [b - a for a, b in pairwise(xs)] or [float(_RIGHT - _LEFT)]
    found = []
    for at, (hump, x) in enumerate(zip(humps, xs, strict=True)):
        before = gaps[at - 1] if at else gaps[0]
        after = gaps[at] if at < len(gaps) else gaps[-1]
        left = max(x - before / 2, float(_LEFT))
        right = min(x + after / 2, float(_RIGHT))
        band = (round(left, 1), round(max(right - left, 1.0), 1))
        found.append(HumpDrawing(names[hump.place], hump.place, x, *band))
    return tuple(found)


def _limits(of: Lane) -> tuple[float, float]:
    values = [v for v in (*of.low, *of.high) if v is not None]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    room = max((high - low) * 0.06, 1e-3)
    return low - room, high + room


def _path(of: Lane, limits: tuple[float, float], top: int, height: int) -> str:
    """Return the outline as a path that goes through both extremes of each column."""
    low, high = limits
    step = (_RIGHT - _LEFT) / COLUMNS
    parts: list[str] = []
    pen = "M"
    upwards = True
    for column, (least, most) in enumerate(zip(of.low, of.high, strict=True)):
        if least is None or most is None:
            pen = "M"
            continue
        x = round(_LEFT + (column + 0.5) * step, 1)
        ends = (least, most) if upwards else (most, least)
        upwards = not upwards
        for value in dict.fromkeys(ends):
            y = round(top + height - (value - low) / (high - low) * height, 1)
            parts.append(f"{pen}{x} {y}")
            pen = "L"
    return "".join(parts)


def _round_values(low: float, high: float, most: int) -> list[float]:
    """Return round figures between two limits, at most `most`."""
    span = high - low
    size = 10.0 ** np.floor(np.log10(span / most))
    step = next(size * k for k in (1, 2, 5, 10, 20) if span / (size * k) <= most)
    first = int(np.ceil(low / step))
    return [round(n * step, 6) for n in range(first, int(np.floor(high / step)) + 1)]
