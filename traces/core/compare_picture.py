"""Both mean engine cycles in one drawing: crank angle across, cylinders named, one dashed."""

from dataclasses import dataclass

import numpy as np

from engines.core.firing import CYCLE_DEG
from traces.core.compare import Comparison, Curves, Row
from traces.core.conditioning import Floats
from traces.core.picture import WIDTH, Tick, ticks_between

_CURVE_HEIGHT = 220
_LEFT, _RIGHT, _TOP, _BOTTOM = 52, 14, 34, 80
_FLAT_BAND, _UPRIGHT_BAND = 18, 78
_WORD_NEEDS = 56
"""Drawing units that the word “changed” needs when it lies flat."""
_HUMP_AHEAD_DEG = 16.0
"""A load hump peaks about so far before its top dead centre; see the twin."""
_MOST_LEAD_DEG = 110.0
_TICK_DEG = 90


@dataclass(frozen=True, slots=True)
class Firing:
    """A cylinder's firing top dead centre: where, its name, and the word under it or none."""

    x: float
    name: str
    word: str


@dataclass(frozen=True, slots=True)
class ComparePicture:
    """All of the drawing in drawing units; a template only writes it down.

    `first` is drawn dashed, `second` in one line; `base` is the floor of both, `ticks_y` the
    angle axis under the words of changed cylinders. `axis` is the upright axis in words,
    `names` what the two curves are, `words` what the picture shows for those who do not see it.
    """

    width: int
    height: int
    left: int
    right: int
    top: int
    base: int
    ticks_y: int
    first: str
    second: str
    firings: tuple[Firing, ...]
    values: tuple[Tick, ...]
    angles: tuple[Tick, ...]
    cylinders_known: bool
    words_upright: bool
    axis: str
    names: tuple[str, str]
    words: str


def compare_picture(comparison: Comparison, names: tuple[str, str]) -> ComparePicture | None:
    """Draw both cycles of a comparison; None where it has no curves.

    The drawing begins a little before 0, so that the first cylinder's hump is whole, and ends at
    720 degrees.
    """
    curves = comparison.curves
    if curves is None:
        return None
    rows = comparison.rows
    from_deg = -_lead_deg(rows)
    at_deg = np.append(np.arange(from_deg, CYCLE_DEG, 3.0), CYCLE_DEG)
    both = [_turned(curves, v, at_deg) for v in (curves.first, curves.second)]
    low, high = float(np.min(both)), float(np.max(both))
    steps = list(ticks_between(low, high, 5))
    step = steps[1] - steps[0] if len(steps) > 1 else max(high - low, 1.0)
    floor, roof = low - 0.25 * step, high + 0.1 * step
    base = _TOP + _CURVE_HEIGHT
    upright = (WIDTH - _LEFT - _RIGHT) / len(rows) < _WORD_NEEDS

    def x_of(deg: float) -> float:
        share = (deg - from_deg) / (CYCLE_DEG - from_deg)
        return round(_LEFT + share * (WIDTH - _LEFT - _RIGHT), 1)

    def y_of(value: float) -> float:
        return round(base - (value - floor) / (roof - floor) * (base - _TOP), 1)

    def path(values: Floats) -> str:
        points = (
            f"{x_of(float(d)):g} {y_of(float(v)):g}" for d, v in zip(at_deg, values, strict=True)
        )
        return "M" + "L".join(points)

    band = 0
    if comparison.changed:
        band = _UPRIGHT_BAND if upright else _FLAT_BAND
    return ComparePicture(
        width=WIDTH,
        height=base + band + _BOTTOM,
        left=_LEFT,
        right=WIDTH - _RIGHT,
        top=_TOP,
        base=base,
        ticks_y=base + band,
        first=path(both[0]),
        second=path(both[1]),
        firings=tuple(
            Firing(x_of(r.tdc_deg), r.name, "changed" if r.told_apart else "") for r in rows
        ),
        values=tuple(Tick(y_of(v), f"{v:g}") for v in steps if floor <= v <= roof),
        angles=tuple(Tick(x_of(d), str(d)) for d in range(0, round(CYCLE_DEG) + 1, _TICK_DEG)),
        cylinders_known=comparison.laid.known,
        words_upright=upright,
        axis=curves.axis,
        names=names,
        words=_words(comparison, names),
    )


def _lead_deg(rows: tuple[Row, ...]) -> float:
    gap_deg = CYCLE_DEG - rows[-1].tdc_deg
    return float(round(min(gap_deg / 2 + _HUMP_AHEAD_DEG, _MOST_LEAD_DEG)))


def _turned(curves: Curves, values: Floats, at_deg: Floats) -> Floats:
    found = np.interp(at_deg, curves.angle_deg, values, period=CYCLE_DEG)
    return np.asarray(found, dtype=np.float64)


def _words(comparison: Comparison, names: tuple[str, str]) -> str:
    lead = f"Mean engine cycle of the {names[0]}, dashed, and of the {names[1]}, by crank angle"
    if not comparison.laid.is_settled:
        return f"{lead}; which place is which is not settled"
    what = "cylinder" if comparison.laid.known else "place"
    told = [
        f"{what} {r.name} {'higher' if r.change > 0 else 'lower'} in the {names[1]}"
        for r in comparison.changed
    ]
    return f"{lead}; {', '.join(told) or 'no figure is told apart'}"
