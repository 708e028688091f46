"""The fitted engine cycle over the measured one, by crank angle, each hump named."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from traces.core.picture import HumpMark, Tick, mark_hump, ticks_between
from traces.core.results import Call, Hump, Report

Floats = NDArray[np.float64]

WIDTH = 480
_LEFT, _RIGHT, _TOP, _CURVE_HEIGHT, _BOTTOM = 52, 20, 46, 190, 76
_FLAT_BAND, _UPRIGHT_BAND = 18, 60
_WORD_NEEDS = 50
_CYCLE_DEG = 720.0


@dataclass(frozen=True, slots=True)
class CyclePicture:
    """All of the drawing in drawing units; a template only writes it down.

    `from_tdc` names whose top dead centre the angles count from, empty where that is not known;
    `apart` says in a sentence how far the curves lie from each other.
    """

    width: int
    height: int
    left: int
    right: int
    top: int
    base: int
    ticks_y: int
    measured: str
    fitted: str
    humps: tuple[HumpMark, ...]
    values: tuple[Tick, ...]
    angles: tuple[Tick, ...]
    words_upright: bool
    axis: str
    from_tdc: str
    apart: str
    words: str


@dataclass(frozen=True, slots=True)
class _Cycle:
    """One engine cycle in rising angle, closed at both ends."""

    angle_deg: Floats
    measured: Floats
    model: Floats
    tdc_deg: tuple[float, ...]


def cycle_picture(
    report: Report, *, axis: str, name: str, unit: str, scale: float | None = None
) -> CyclePicture | None:
    """Draw the mean engine cycle as measured, full, and as fitted, dashed.

    Parameters
    ----------
    report
        Of the analysis.
    axis, name
        What the curve is: the axis in words, and the signal for those who do not see it.
    unit
        Of the figures drawn.
    scale
        What a mean of 1 is in that unit; None takes the report's own level.

    Returns
    -------
    CyclePicture or None
        None where nothing was fitted.
    """
    fit = report.extra.get("cycle_fit")
    if not fit or len(fit["measured"]) < 2 or len(fit["measured"]) != len(fit["model"]):
        return None
    scale = float(fit["level"]) if scale is None and "level" in fit else scale
    cycle = _in_order(fit, 1.0 if scale is None else scale)
    both = np.concatenate((cycle.measured, cycle.model))
    low, high = float(both.min()), float(both.max())
    ticks = list(ticks_between(low, high, 5))
    step = ticks[1] - ticks[0] if len(ticks) > 1 else max(high - low, 1.0)
    floor, roof = low - 0.25 * step, high + 0.1 * step
    base = _TOP + _CURVE_HEIGHT
    begin_deg, end_deg = float(cycle.angle_deg[0]), float(cycle.angle_deg[-1])

    def x_of(angle_deg: float) -> float:
        share = (angle_deg - begin_deg) / (end_deg - begin_deg)
        return round(_LEFT + share * (WIDTH - _LEFT - _RIGHT), 1)

    def y_of(value: float) -> float:
        return round(base - (value - floor) / (roof - floor) * (base - _TOP), 1)

    def points_of(values: Floats) -> list[tuple[float, float]]:
        pairs = zip(cycle.angle_deg, values, strict=True)
        return [(x_of(float(a)), y_of(float(v))) for a, v in pairs]

    measured = points_of(cycle.measured)
    humps = _humps(report, cycle, measured, x_of, base)
    upright = bool(humps) and (WIDTH - _LEFT - _RIGHT) / len(humps) < _WORD_NEEDS
    band = 0
    if any(h.word for h in humps):
        band = _UPRIGHT_BAND if upright else _FLAT_BAND
    first = report.estimates[0] if report.estimates else None
    from_tdc = ""
    if cycle.tdc_deg and first is not None:
        known = report.cylinders_known and first.cylinder is not None
        from_tdc = f"cylinder {first.cylinder}" if known else "the first firing place"
    return CyclePicture(
        width=WIDTH,
        height=base + band + _BOTTOM,
        left=_LEFT,
        right=WIDTH - _RIGHT,
        top=_TOP,
        base=base,
        ticks_y=base + band,
        measured=_path(measured),
        fitted=_path(points_of(cycle.model)),
        humps=humps,
        values=tuple(Tick(y_of(v), f"{v:g}") for v in ticks if floor <= v <= roof),
        angles=tuple(
            Tick(x_of(float(a)), f"{a:g}")
            for a in np.arange(-_CYCLE_DEG, 2 * _CYCLE_DEG, 90.0)
            if begin_deg - 0.01 <= a <= end_deg + 0.01
        ),
        words_upright=upright,
        axis=axis,
        from_tdc=from_tdc,
        apart=_apart(cycle, unit),
        words=_words(report, humps, name),
    )


def _in_order(fit: Mapping[str, Any], scale: float) -> _Cycle:
    """Turn the cycle so that it begins half a gap before the first compression's end."""
    measured = scale * np.array(fit["measured"], dtype=np.float64)
    model = scale * np.array(fit["model"], dtype=np.float64)
    size = measured.size
    # results from before the angles were told stand at even times
    angle_deg = np.array(fit.get("angle_deg") or np.arange(size) * _CYCLE_DEG / size)
    tdc_deg = tuple(float(t) for t in fit.get("tdc_deg") or ())
    begin_deg, places = 0.0, tdc_deg
    if tdc_deg:
        places = tuple((t - tdc_deg[0]) % _CYCLE_DEG for t in tdc_deg)
        angle_deg = angle_deg - tdc_deg[0]
        begin_deg = (places[-1] - _CYCLE_DEG) / 2
    turned = begin_deg + (angle_deg - begin_deg) % _CYCLE_DEG
    order = np.argsort(turned)
    turned, measured, model = turned[order], measured[order], model[order]
    ends = np.array([begin_deg, begin_deg + _CYCLE_DEG])

    def closed(values: Floats) -> Floats:
        at = np.interp(ends, turned, values, period=_CYCLE_DEG)
        return np.concatenate((at[:1], values, at[1:]))

    angles = np.concatenate((ends[:1], turned, ends[1:]))
    return _Cycle(angles, closed(measured), closed(model), places)


def _humps(
    report: Report,
    cycle: _Cycle,
    points: list[tuple[float, float]],
    x_of: Any,  # noqa: ANN401 - a function of this module
    base: int,
) -> tuple[HumpMark, ...]:
    """Name every hump; valleys between two compressions part them."""
    if len(cycle.tdc_deg) != len(report.estimates):
        return ()
    edges = [float(cycle.angle_deg[0])]
    for before, after in pairwise(cycle.tdc_deg):
        between = np.flatnonzero((cycle.angle_deg > before) & (cycle.angle_deg < after))
        if between.size:
            lowest = between[int(np.argmin(cycle.measured[between]))]
            edges.append(float(cycle.angle_deg[lowest]))
        else:
            edges.append((before + after) / 2)
    edges.append(float(cycle.angle_deg[-1]))
    calls: dict[int, Call] = {e.position: e.call for e in report.estimates}
    marks = []
    for e, tdc_deg, (left, right) in zip(
        report.estimates, cycle.tdc_deg, pairwise(edges), strict=True
    ):
        cylinder = e.cylinder if report.cylinders_known else None
        marks.append(
            mark_hump(
                Hump(tdc_deg, e.position, cylinder, 1, 0.0, 0.0),
                calls[e.position],
                hump_x=x_of(tdc_deg),
                span_x=(x_of(left), x_of(right)),
                points=points,
                base=base,
            )
        )
    return tuple(marks)


def _path(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def _apart(cycle: _Cycle, unit: str) -> str:
    off = cycle.measured - cycle.model
    rms = float(np.sqrt(np.mean(off * off)))
    swing = float(np.ptp(cycle.measured))
    share = 100 * rms / swing if swing > 0 else 0.0
    return (
        f"On average (root of the mean square) the fitted curve lies {rms:.2g} {unit} from the "
        f"measured one, {share:.1f} % of the measured swing."
    )


def _words(report: Report, humps: tuple[HumpMark, ...], name: str) -> str:
    what = "cylinder" if report.cylinders_known else "place"
    marked = ", ".join(f"{what} {h.name} {h.word}" for h in humps if h.word)
    low = f"marked: {marked}" if marked else "no hump is marked low"
    return f"{name} over one engine cycle, measured and fitted; {low}"
