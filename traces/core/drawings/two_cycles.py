"""Both mean engine cycles in one drawing: crank angle across, cylinders named, one dashed."""

from dataclasses import dataclass

import numpy as np

from engines.core.firing import CYCLE_DEG
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import say
from traces.core.comparison import ComparedRow, Comparison, Curves
from traces.core.drawings.curve_drawing import Floats, PlotFrame, Room, Scales, Tick, path_of
from traces.core.findings import joined

_ROOM = Room(left=52, right=14, top=34, curve=220, bottom=80, words=78, word=56)
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

    `first` is drawn dashed, `second` in one line. `axis` is the upright axis in words, `names`
    what the two curves are, `words` what the picture shows for those who do not see it.
    """

    frame: PlotFrame
    first: str
    second: str
    firings: tuple[Firing, ...]
    values: tuple[Tick, ...]
    angles: tuple[Tick, ...]
    cylinders_known: bool
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
    scales = Scales(_ROOM, (from_deg, CYCLE_DEG), np.array(both))
    return ComparePicture(
        frame=_ROOM.frame(len(rows), words=bool(comparison.changed)),
        first=path_of(scales.points(at_deg, both[0])),
        second=path_of(scales.points(at_deg, both[1])),
        firings=tuple(
            Firing(scales.x(r.tdc_deg), r.name, "changed" if r.told_apart else "") for r in rows
        ),
        values=scales.value_ticks(),
        angles=scales.ticks(range(0, round(CYCLE_DEG) + 1, _TICK_DEG)),
        cylinders_known=comparison.laid.known,
        axis=curves.axis,
        names=names,
        words=_words(comparison, names),
    )


def _lead_deg(rows: tuple[ComparedRow, ...]) -> float:
    gap_deg = CYCLE_DEG - rows[-1].tdc_deg
    return float(round(min(gap_deg / 2 + _HUMP_AHEAD_DEG, _MOST_LEAD_DEG)))


def _turned(curves: Curves, values: Floats, at_deg: Floats) -> Floats:
    found = np.interp(at_deg, curves.angle_deg, values, period=CYCLE_DEG)
    return np.asarray(found, dtype=np.float64)


def _words(comparison: Comparison, names: tuple[str, str]) -> str:
    lead = _(
        "Mean engine cycle of the {first}, dashed, and of the {second}, by crank angle"
    ).format(first=names[0], second=names[1])
    if not comparison.laid.is_settled:
        return _("{lead}; which place is which is not settled").format(lead=lead)
    told = [
        _CHANGED[comparison.laid.known, r.change > 0].filled(number=r.name, capture=names[1])
        for r in comparison.changed
    ]
    return f"{lead}; {joined(told) if told else _('no figure is told apart')}"


_CHANGED = {
    (True, True): say("cylinder {number} higher in the {capture}"),
    (True, False): say("cylinder {number} lower in the {capture}"),
    (False, True): say("place {number} higher in the {capture}"),
    (False, False): say("place {number} lower in the {capture}"),
}
