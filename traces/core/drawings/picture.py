"""The evidence picture: a few cycles of current, each hump named, the low ones marked."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from shopdiag.people.core.words import Text, say
from shopdiag.people.core.words import gettext as _
from traces.core.drawings.curve_drawing import (
    Floats,
    PlotFrame,
    Points,
    Room,
    Scales,
    Tick,
    path_of,
    ticks_between,
    valleys_between,
)
from traces.core.findings import joined
from traces.core.report import Call, Hump, Report, call_words

_ROOM = Room(left=52, right=8, top=46, curve=200, bottom=60, words=60, word=50)
_MOST_HUMPS = 9
_MOST_CYCLES = 3

_HATCHES: dict[Call, str] = {"suspect": "close", "watch": "wide", "sound": "", "open": ""}


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
        Cylinder number, or the letter of the place where numbers are not known.
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

    `cylinders_known` tells whether names are cylinder numbers.
    """

    frame: PlotFrame
    curve: str
    humps: tuple[HumpMark, ...]
    sync_x: tuple[float, ...]
    amps: tuple[Tick, ...]
    times: tuple[Tick, ...]
    cylinders_known: bool
    from_s: float
    to_s: float
    axis: str
    words: str
    """What the picture shows, for those who do not see it."""


@dataclass(frozen=True, slots=True)
class PictureStretch:
    """Which part of the recording the picture shows."""

    from_s: float
    to_s: float
    humps: tuple[Hump, ...]


def evidence_stretch(report: Report) -> PictureStretch | None:
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
    return PictureStretch(shown[0].at_s - half_gap_s, shown[-1].at_s + half_gap_s, tuple(shown))


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
    stretch: PictureStretch,
    times_s: Floats,
    current_a: Floats,
    *,
    marked: Collection[int] | None = None,
    axis: str = "",
    name: str = "",
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
    scales = Scales(_ROOM, (stretch.from_s, stretch.to_s), current_a)
    points = scales.points(times_s, current_a)
    spans = valleys_between(
        [h.at_s for h in stretch.humps], (stretch.from_s, stretch.to_s), times_s, current_a
    )
    calls = _calls(report, marked)
    humps = tuple(
        mark_hump(
            hump,
            calls.get(hump.position, "sound"),
            hump_x=scales.x(hump.at_s),
            span_x=(scales.x(from_s), scales.x(to_s)),
            points=points,
            room=_ROOM,
        )
        for hump, (from_s, to_s) in zip(stretch.humps, spans, strict=True)
    )
    shown_s = (t for t in report.sync_events_s if stretch.from_s <= t <= stretch.to_s)
    return Picture(
        frame=_ROOM.frame(len(stretch.humps), words=any(h.word for h in humps)),
        curve=path_of(points),
        humps=humps,
        sync_x=tuple(scales.x(t) for t in shown_s),
        amps=scales.value_ticks(),
        times=scales.ticks(ticks_between(stretch.from_s, stretch.to_s, 5)),
        cylinders_known=report.cylinders_known,
        from_s=stretch.from_s,
        to_s=stretch.to_s,
        axis=axis or _("clamp current in amps"),
        words=_words(report, humps, name or _("Cranking current")),
    )


def _calls(report: Report, marked: Collection[int] | None) -> dict[int, Call]:
    """Return the call of every position."""
    if marked is None:
        return {e.position: e.call for e in report.estimates}
    return {e.position: "suspect" if e.cylinder in marked else "sound" for e in report.estimates}


def mark_hump(
    hump: Hump,
    call: Call,
    *,
    hump_x: float,
    span_x: tuple[float, float],
    points: Points,
    room: Room,
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
    room
        Of the drawing.
    """
    left, right = span_x
    under = [(x, y) for x, y in points if left <= x <= right]
    x, top = _top_of(under, hump_x) if under else (hump_x, float(room.top))
    patch = ""
    if call != "sound" and under:
        outline = "L".join(f"{px:g} {py:g}" for px, py in under)
        patch = f"M{under[0][0]:g} {room.base}L{outline}L{under[-1][0]:g} {room.base}Z"
    return HumpMark(
        x=round(x, 1),
        name_y=round(top - 8, 1),
        name=hump.name,
        word="" if call == "sound" else call_words(call),
        hatch=_HATCHES[call],
        patch=patch,
    )


def _top_of(under: Points, hump_x: float) -> tuple[float, float]:
    """Return the top of a hump; one that drowns in a neighbour's flank has none of its own."""
    top = min(range(len(under)), key=lambda i: under[i][1])
    if top in (0, len(under) - 1):
        return min(under, key=lambda p: abs(p[0] - hump_x))
    return under[top]


def _words(report: Report, humps: tuple[HumpMark, ...], name: str) -> str:
    marked = sorted({(h.name, h.word) for h in humps if h.word})
    if not marked:
        return _("{name} over time; no hump is marked low").format(name=name)
    told = joined(
        [hump_words(number, word, known=report.cylinders_known) for number, word in marked]
    )
    return _("{name} over time; marked: {told}").format(name=name, told=told)


def hump_words(number: str, word: str, *, known: bool) -> Text:
    """Return what is written over a hump, for those who do not see it."""
    if known:
        return say("cylinder {number} {word}", number=number, word=word)
    return say("place {number} {word}", number=number, word=word)
