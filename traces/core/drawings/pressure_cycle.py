"""One cylinder's mean pressure over its four strokes, whole, near the air's, and by volume."""

from dataclasses import dataclass

import numpy as np

from shopdiag.people.core.words import gettext as _
from traces.core.compression import Geometry
from traces.core.drawings.curve_drawing import Floats, PlotFrame, Room, Scales, Tick, path_of
from traces.core.report import Interval, PressureFigures

_ROOM = Room(left=56, right=18, top=44, curve=176, bottom=64, words=0, word=0)
_FROM_DEG, _TO_DEG, _STROKE_DEG = -180.0, 540.0, 180.0
_TICKS_DEG = (-180, -90, 0, 90, 180, 270, 360, 450, 540)
_LOW_SHARE, _LEAST_LOW_KPA = 1.5, 25.0
_VOLUMES = (1, 2, 3, 5, 10, 20)
_KPA = (20, 50, 100, 200, 500, 1000, 2000, 5000)


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke: where it begins, how wide it is, its name, and whether it is shaded."""

    x: float
    width: float
    middle: float
    name: str
    is_shaded: bool


@dataclass(frozen=True, slots=True)
class AngleMark:
    """An angle with its 95 % interval: the line, the bar about it, and its word."""

    x: float
    from_x: float
    width: float
    word: str
    y: float


@dataclass(frozen=True, slots=True)
class PressurePicture:
    """All of the drawing in drawing units; a template only writes it down.

    `beside` is the other capture, dashed; empty without one. `across` is the axis across in words,
    `names` what the two curves are.
    """

    frame: PlotFrame
    curve: str
    beside: str
    strokes: tuple[Stroke, ...]
    marks: tuple[AngleMark, ...]
    values: tuple[Tick, ...]
    angles: tuple[Tick, ...]
    axis: str
    across: str
    names: tuple[str, str]
    words: str

    @property
    def curve_height(self) -> int:
        """How high the curve's field is."""
        return self.frame.base - self.frame.top


def strokes_picture(
    figures: PressureFigures,
    beside: PressureFigures | None,
    names: tuple[str, str],
    *,
    is_low: bool = False,
) -> PressurePicture:
    """Draw the mean cycle over crank angle, with its strokes named and its angles marked.

    Parameters
    ----------
    beside
        Another capture, drawn dashed.
    names
        What this one and the other are called.
    is_low
        Whether only what lies near the pressure of the air is drawn: gas exchange, which is a
        hair's breadth beside a compression.
    """
    deg, kpa = _curve(figures)
    others = _curve(beside)[1] if beside is not None else None
    drawn = [kpa] if others is None else [kpa, others]
    if is_low:
        low, high = _low_band(drawn)
        seen = [np.clip(one, low, high) for one in drawn]
    else:
        seen = drawn
    scales = Scales(_ROOM, (_FROM_DEG, _TO_DEG), np.concatenate(seen))
    inside = (float("-inf"), float("inf")) if not is_low else (low, high)
    title = _("pressure over the air, kPa; enlarged") if is_low else _("pressure over the air, kPa")
    return PressurePicture(
        frame=_ROOM.frame(0, words=False),
        curve=_within(scales, deg, kpa, inside),
        beside="" if others is None else _within(scales, deg, others, inside),
        strokes=_strokes(scales),
        marks=_marks(scales, figures),
        values=scales.value_ticks(),
        angles=scales.ticks(_TICKS_DEG),
        axis=title,
        across=_("crank degrees from firing top dead centre"),
        names=names,
        words=_words(figures),
    )


def volume_picture(
    figures: PressureFigures, beside: PressureFigures | None, names: tuple[str, str]
) -> PressurePicture | None:
    """Draw the logarithm of pressure over that of volume; None where the ratio is not known.

    A leg of p V^n is a straight line there, as steep as its exponent.
    """
    if not figures.is_ratio_known:
        return None
    curves = []
    for one in (figures, beside):
        if one is None:
            continue
        deg, kpa = _curve(one)
        volume = Geometry(figures.compression_ratio).volume(deg)
        curves.append((np.log10(volume), np.log10(np.maximum(kpa + one.air_kpa, 1.0))))
    across = (0.0, float(np.log10(figures.compression_ratio)))
    scales = Scales(_ROOM, across, np.concatenate([p for _v, p in curves]))
    paths = [path_of(scales.points(v, p)) for v, p in curves]
    low = min(float(p.min()) for _v, p in curves)
    high = max(float(p.max()) for _v, p in curves)
    return PressurePicture(
        frame=_ROOM.frame(0, words=False),
        curve=paths[0],
        beside=paths[1] if len(paths) > 1 else "",
        strokes=(),
        marks=(),
        values=tuple(
            Tick(scales.y(float(np.log10(kpa))), str(kpa))
            for kpa in _KPA
            if low <= np.log10(kpa) <= high
        ),
        angles=tuple(
            Tick(scales.x(float(np.log10(v))), str(v))
            for v in _VOLUMES
            if v <= figures.compression_ratio
        ),
        axis=_("absolute pressure, kPa, logarithmic"),
        across=_("volume over that at top dead centre, logarithmic"),
        names=names,
        words=_("Pressure over volume of one engine cycle, both logarithmic"),
    )


def _curve(figures: PressureFigures) -> tuple[Floats, Floats]:
    kpa = np.array(figures.curve.gauge_kpa, dtype=np.float64)
    place = np.arange(kpa.size, dtype=np.float64)
    return np.asarray(figures.curve.first_deg + figures.curve.step_deg * place), kpa


def _low_band(curves: list[Floats]) -> tuple[float, float]:
    """Return what of the pressures to enlarge: all but the compression."""
    # from 225 to 495 degrees, where the cylinder only exchanges its gas
    part = np.concatenate([one[202:338] for one in curves])
    reach = max(_LEAST_LOW_KPA, _LOW_SHARE * float(np.abs(part).max()))
    return max(-reach, float(min(one.min() for one in curves)) - 2.0), reach


def _within(scales: Scales, deg: Floats, kpa: Floats, inside: tuple[float, float]) -> str:
    """Return a curve as a path that leaves out what lies outside."""
    ok = (kpa >= inside[0]) & (kpa <= inside[1])
    edges = np.flatnonzero(np.diff(ok.astype(int))) + 1
    pieces = (p for p in np.split(np.arange(deg.size), edges) if ok[p[0]] and p.size > 1)
    return "".join(path_of(scales.points(deg[piece], kpa[piece])) for piece in pieces)


def _strokes(scales: Scales) -> tuple[Stroke, ...]:
    names = (_("compression"), _("expansion"), _("exhaust"), _("intake"))
    found = []
    for i, name in enumerate(names):
        x = scales.x(_FROM_DEG + i * _STROKE_DEG)
        width = round(scales.x(_FROM_DEG + (i + 1) * _STROKE_DEG) - x, 1)
        found.append(Stroke(x, width, round(x + width / 2, 1), name, i % 2 == 1))
    return tuple(found)


def _marks(scales: Scales, figures: PressureFigures) -> tuple[AngleMark, ...]:
    loss = figures.loss_deg
    half = 0.0 if loss is None else (loss.high - loss.low) / 2
    closes = figures.intake_closes_deg
    angles = (
        (_moved(closes, -720.0), _("intake closes"), 14.0),
        (Interval(0.0, -half, half), _("TDC"), 30.0),
        (figures.exhaust_opens_deg, _("exhaust opens"), 14.0),
    )
    return tuple(
        _mark(scales, angle, word, _ROOM.top + down)
        for angle, word, down in angles
        if angle is not None
    )


def _moved(figure: Interval | None, by_deg: float) -> Interval | None:
    if figure is None:
        return None
    return Interval(figure.value + by_deg, figure.low + by_deg, figure.high + by_deg)


def _mark(scales: Scales, figure: Interval, word: str, y: float) -> AngleMark:
    value, low, high = (
        min(max(end, _FROM_DEG), _TO_DEG) for end in (figure.value, figure.low, figure.high)
    )
    x = scales.x(low)
    return AngleMark(scales.x(value), x, round(scales.x(high) - x, 1), word, y)


def _words(figures: PressureFigures) -> str:
    which = (
        _("Pressure in the cylinder")
        if figures.cylinder is None
        else _("Pressure in cylinder {number}").format(number=figures.cylinder)
    )
    return _("{which} over one engine cycle by crank angle; peak {peak} kPa").format(
        which=which, peak=f"{figures.peak_kpa.value:.0f}"
    )
