"""The fitted engine cycle over the measured one, by crank angle, each hump named."""

from dataclasses import dataclass

import numpy as np

from shopdiag.people.core.words import gettext as _
from traces.core.drawings.curve_drawing import (
    Floats,
    PlotFrame,
    Points,
    Room,
    Scales,
    Tick,
    path_of,
    valleys_between,
)
from traces.core.drawings.picture import HumpMark, hump_words, mark_hump
from traces.core.findings import joined
from traces.core.report import Call, CycleFit, Hump, Report

_ROOM = Room(left=52, right=20, top=46, curve=190, bottom=76, words=60, word=50)
_CYCLE_DEG = 720.0


@dataclass(frozen=True, slots=True)
class CyclePicture:
    """All of the drawing in drawing units; a template only writes it down.

    `from_tdc` names whose top dead centre the angles count from, empty where that is not known;
    `apart` says in a sentence how far the curves lie from each other.
    """

    frame: PlotFrame
    measured: str
    fitted: str
    humps: tuple[HumpMark, ...]
    values: tuple[Tick, ...]
    angles: tuple[Tick, ...]
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
    fit = report.parts.cycle_fit
    if fit is None or len(fit.measured) < 2 or len(fit.measured) != len(fit.model):
        return None
    scale = fit.level if scale is None else scale
    cycle = _in_order(fit, 1.0 if scale is None else scale)
    both = np.concatenate((cycle.measured, cycle.model))
    begin_deg, end_deg = float(cycle.angle_deg[0]), float(cycle.angle_deg[-1])
    scales = Scales(_ROOM, (begin_deg, end_deg), both)
    measured = scales.points(cycle.angle_deg, cycle.measured)
    humps = _humps(report, cycle, measured, scales)
    first = report.estimates[0] if report.estimates else None
    from_tdc = ""
    if cycle.tdc_deg and first is not None:
        known = report.cylinders_known and first.cylinder is not None
        from_tdc = (
            _("cylinder {cylinder}").format(cylinder=first.cylinder)
            if known
            else _("the first firing place")
        )
    return CyclePicture(
        frame=_ROOM.frame(len(humps), words=any(h.word for h in humps)),
        measured=path_of(measured),
        fitted=path_of(scales.points(cycle.angle_deg, cycle.model)),
        humps=humps,
        values=scales.value_ticks(),
        angles=scales.ticks(
            float(a)
            for a in np.arange(-_CYCLE_DEG, 2 * _CYCLE_DEG, 90.0)
            if begin_deg - 0.01 <= a <= end_deg + 0.01
        ),
        axis=axis,
        from_tdc=from_tdc,
        apart=_apart(cycle, unit),
        words=_words(report, humps, name),
    )


def _in_order(fit: CycleFit, scale: float) -> _Cycle:
    """Turn the cycle so that it begins half a gap before the first compression's end."""
    measured = scale * np.array(fit.measured, dtype=np.float64)
    model = scale * np.array(fit.model, dtype=np.float64)
    size = measured.size
    # results from before the angles were told stand at even times
    angle_deg = np.array(fit.angle_deg or np.arange(size) * _CYCLE_DEG / size)
    tdc_deg = fit.tdc_deg
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


def _humps(report: Report, cycle: _Cycle, points: Points, scales: Scales) -> tuple[HumpMark, ...]:
    """Name every hump; valleys between two compressions part them."""
    if len(cycle.tdc_deg) != len(report.estimates):
        return ()
    ends = (float(cycle.angle_deg[0]), float(cycle.angle_deg[-1]))
    spans = valleys_between(cycle.tdc_deg, ends, cycle.angle_deg, cycle.measured)
    calls: dict[int, Call] = {e.position: e.call for e in report.estimates}
    marks = []
    for e, tdc_deg, (left, right) in zip(report.estimates, cycle.tdc_deg, spans, strict=True):
        cylinder = e.cylinder if report.cylinders_known else None
        marks.append(
            mark_hump(
                Hump(tdc_deg, e.position, cylinder, 1, 0.0, 0.0),
                calls[e.position],
                hump_x=scales.x(tdc_deg),
                span_x=(scales.x(left), scales.x(right)),
                points=points,
                room=_ROOM,
            )
        )
    return tuple(marks)


def _apart(cycle: _Cycle, unit: str) -> str:
    off = cycle.measured - cycle.model
    rms = float(np.sqrt(np.mean(off * off)))
    swing = float(np.ptp(cycle.measured))
    share = 100 * rms / swing if swing > 0 else 0.0
    return _(
        # a share, no directive; xgettext:no-python-format
        "On average (root of the mean square) the fitted curve lies {rms:.2g} "
        "{unit} from the measured one, {share:.1f} % of the measured swing."
    ).format(rms=rms, unit=unit, share=share)


def _words(report: Report, humps: tuple[HumpMark, ...], name: str) -> str:
    marked = [hump_words(h.name, h.word, known=report.cylinders_known) for h in humps if h.word]
    if not marked:
        return _("{name} over one engine cycle, measured and fitted; no hump is marked low").format(
            name=name
        )
    return _("{name} over one engine cycle, measured and fitted; marked: {told}").format(
        name=name, told=joined(marked)
    )
