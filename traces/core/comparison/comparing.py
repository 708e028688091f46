"""Two judged captures of one kind of engine beside each other, by crank angle and by cylinder."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import ngettext, say
from traces.core.comparison.alignment import (
    GRID_DEG,
    CycleAlignment,
    align_cycles,
    cycle_of,
    on_axis,
)
from traces.core.findings import listed, place_letter
from traces.core.pooling import half_of
from traces.core.report import Estimate, Report
from traces.core.setup import (
    AnalysisSetup,
    ConditionRow,
    Conditions,
    Cranked,
    condition_rows,
    not_noted_words,
)
from traces.core.signal_kinds import kind_of
from traces.core.signals import shown_as
from traces.core.waveform import Floats

DIFFERENCE_SOURCE = say(
    "Two figures count as different where they are further apart than the "
    "root of the sum of their squared 95 % half-widths (Schenker and "
    "Gentleman, The American Statistician 55, 2001, 182-186); of figures "
    "that did not change at most one in twenty does so by chance."
)
_ANGLES_APART_DEG = 1.0


class CompareError(ValueError):
    """The two cannot be laid beside each other; the text is one sentence that says why."""


@dataclass(frozen=True, slots=True)
class ComparedCapture:
    """One capture as comparison takes it; `name` is what sentences call it: "earlier capture"."""

    name: str
    report: Report
    setup: AnalysisSetup
    conditions: Conditions


@dataclass(frozen=True, slots=True)
class ComparedFigure:
    """Relative compression with its 95 % interval and its call."""

    relative: float
    low: float
    high: float
    call: str


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One cylinder in both.

    Parameters
    ----------
    place
        1-based, in firing sequence, as both are laid.
    cylinder
        Number as stamped; None where neither capture knows it.
    tdc_deg
        Its firing top dead centre on the common axis.
    first, second
        Its figures.
    told_apart
        Whether they differ by more than both intervals together allow; None where it is not
        settled which place of the one is which of the other.
    """

    place: int
    cylinder: int | None
    tdc_deg: float
    first: ComparedFigure
    second: ComparedFigure
    told_apart: bool | None

    @property
    def name(self) -> str:
        """Cylinder number, or the letter of the place."""
        return place_letter(self.place) if self.cylinder is None else str(self.cylinder)

    @property
    def change(self) -> float:
        """Second minus first."""
        return self.second.relative - self.first.relative

    @property
    def change_words(self) -> str:
        """The difference in whole points."""
        return points_words(self.change)


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Both mean engine cycles on one axis.

    Parameters
    ----------
    angle_deg
        Crank angle from the first place's firing top dead centre, 0 to under 720, shape (M,).
    first, second
        Shape (M,), in `unit`.
    unit
        `A` or `V`; empty where it is not known, and both are over their own mean.
    axis
        The axis in words.
    """

    angle_deg: Floats
    first: Floats
    second: Floats
    unit: str
    axis: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two captures beside each other.

    Parameters
    ----------
    laid, laid_words
        How the second lies over the first, and that in sentences.
    rows
        By cylinder, in firing sequence.
    curves, why_no_curves
        Both cycles, or the sentence why there are none.
    conditions
        Side by side.
    cautions
        What to mind, from conditions and findings.
    """

    laid: CycleAlignment
    laid_words: str
    rows: tuple[ComparedRow, ...]
    curves: Curves | None
    why_no_curves: str
    conditions: tuple[ConditionRow, ...]
    cautions: tuple[str, ...]

    @property
    def changed(self) -> tuple[ComparedRow, ...]:
        """Cylinders whose figures are told apart."""
        return tuple(r for r in self.rows if r.told_apart)


def conditions_beside(first: ComparedCapture, second: ComparedCapture) -> tuple[ConditionRow, ...]:
    """Return how two captures were made, and how they cranked, side by side."""
    one, other = (
        Cranked(s.report.cranking_rpm, s.report.cycles, _mean_a(s)) for s in (first, second)
    )
    return condition_rows((first.conditions, second.conditions), (one, other))


def condition_cautions(rows: Sequence[ConditionRow]) -> tuple[str, ...]:
    """Return what follows from what differs, and what is not noted."""
    return (*(row.caution for row in rows if row.caution), *not_noted_words(rows))


def compare(first: ComparedCapture, second: ComparedCapture) -> Comparison:
    """Lay two judged captures beside each other.

    Raises
    ------
    CompareError
        If one was not judged, or they are not of one kind of engine.
    """
    _check(first, second)
    sides = (first, second)
    reports = (first.report, second.report)
    laid = align_cycles(reports, (first.setup, second.setup))
    curves, why_no_curves = _curves(sides, laid)
    conditions = conditions_beside(first, second)
    return Comparison(
        laid=laid,
        laid_words=_laid_words(laid, sides),
        rows=_rows(reports, laid),
        curves=curves,
        why_no_curves=why_no_curves,
        conditions=conditions,
        cautions=(
            *_turned_words(laid, sides),
            *condition_cautions(conditions),
            *_findings_words(sides),
        ),
    )


def _check(first: ComparedCapture, second: ComparedCapture) -> None:
    if not (first.report.shows_compressions and second.report.shows_compressions):
        raise CompareError(
            _(
                "Only captures of all cylinders while cranking are compared here. An idling engine "
                "stands beside its crank on the page of the job, one cylinder's pressure beside "
                "another capture on its own page."
            )
        )
    for side in (first, second):
        if side.report.verdict == "not judged" or not side.report.estimates:
            raise CompareError(
                _("One of the two was not judged, so there is nothing to compare; choose another.")
            )
    one, other = (side.setup.firing_order.starting_at(1) for side in (first, second))
    if len(one) != len(other):
        raise CompareError(
            _(
                "The one has {first} cylinders, the other {second}: different engines "
                "are not compared."
            ).format(first=len(one), second=len(other))
        )
    if one.sequence != other.sequence:
        raise CompareError(
            _(
                "The one fires {one}, the other {other}: different engines are not "
                "compared; if it is one engine, correct the firing order and analyse "
                "again."
            ).format(one=one, other=other)
        )
    if not np.allclose(one.tdc_angles_deg, other.tdc_angles_deg, atol=_ANGLES_APART_DEG):
        raise CompareError(
            _(
                "The two were set up with different firing angles: different engines are "
                "not compared; if it is one engine, correct the angles and analyse again."
            )
        )


def _mean_a(side: ComparedCapture) -> float | None:
    cycle = cycle_of(side.report, side.setup.signal)
    return cycle.level if cycle and side.setup.kind.is_current else None


def _curves(
    sides: tuple[ComparedCapture, ComparedCapture], laid: CycleAlignment
) -> tuple[Curves | None, str]:
    signal = sides[0].setup.signal
    if signal != sides[1].setup.signal:
        names = [shown_as(s.setup.signal).name.lower() for s in sides]
        return None, (
            _(
                "The one was judged from {first}, the other from {second}: their curves "
                "are not the same thing, so only the figures are laid beside each other."
            ).format(first=names[0], second=names[1])
        )
    cycles = [c for c in (cycle_of(s.report, signal) for s in sides) if c is not None]
    if len(cycles) < 2:
        return None, (
            _(
                "One of the two was analysed before curves were kept by crank angle; "
                "analyse it again with the same set-up to see both curves."
            )
        )
    levels = [c.level for c in cycles if c.level is not None]
    scaled = len(levels) == len(cycles)
    scales = levels if scaled else [1.0, 1.0]
    first, second = (
        scale * on_axis(c, t) for c, t, scale in zip(cycles, laid.turns, scales, strict=True)
    )
    axes = kind_of(signal).compared
    axis = axes.of_unit if scaled else axes.of_mean
    return Curves(GRID_DEG, first, second, axes.unit if scaled else "", str(axis)), ""


def points_words(change: float) -> str:
    """Return a difference of relative compression in whole points."""
    points = round(100 * change)
    if points == 0:
        return _("none")
    signed = f"{'+' if points > 0 else '−'}{abs(points)}"
    return ngettext("{points} point", "{points} points", abs(points)).format(points=signed)


def told_apart(relatives: tuple[float, float], halves: tuple[float, float]) -> bool:
    """Return whether two figures differ by more than chance explains; see `DIFFERENCE_SOURCE`.

    Parameters
    ----------
    relatives, halves
        Both figures, and half of each one's 95 % interval.
    """
    return abs(relatives[1] - relatives[0]) > math.hypot(*halves)


def _rows(reports: tuple[Report, Report], laid: CycleAlignment) -> tuple[ComparedRow, ...]:
    n = len(laid.order)
    rows = []
    for i, (cylinder, tdc_deg) in enumerate(laid.order):
        one, other = (r.estimates[(i - t) % n] for r, t in zip(reports, laid.turns, strict=True))
        apart = told_apart((one.relative, other.relative), (half_of(one), half_of(other)))
        rows.append(
            ComparedRow(
                place=i + 1,
                cylinder=cylinder if laid.known else None,
                tdc_deg=tdc_deg,
                first=_figure(one),
                second=_figure(other),
                told_apart=apart if laid.is_settled else None,
            )
        )
    return tuple(rows)


def _figure(estimate: Estimate) -> ComparedFigure:
    return ComparedFigure(estimate.relative, estimate.low, estimate.high, estimate.call)


def _laid_words(laid: CycleAlignment, sides: tuple[ComparedCapture, ComparedCapture]) -> str:
    if laid.by == "cylinder":
        return _(
            "Both know their cylinders: the firing top dead centre of each stands at "
            "the same angle in both."
        )
    first, second = (s.name for s in sides)
    unknown = [s.name for s in sides if not s.report.cylinders_known]
    who = (
        _("Neither knows its cylinders")
        if len(unknown) == 2
        else _("The {unknown} does not know its cylinders").format(unknown=unknown[0])
    )
    told = _("{who}: the {second} is turned to where it is most like the {first}.").format(
        who=who, second=second, first=first
    )
    if laid.is_settled:
        return _("{told} No other turn fits nearly as well.").format(told=told)
    if len(laid.others) == len(laid.order) - 1:
        turns = _("Any other turn")
    else:
        steps = [str(k) for k in laid.others]
        turns = ngettext(
            "Turned on by {steps} firing, it", "Turned on by {steps} firings, it", max(laid.others)
        ).format(steps=listed(steps, "or"))
    return _(
        "{told} {turns} fits nearly as well, so it is not settled which cylinder "
        "of the one is which of the other."
    ).format(told=told, turns=turns)


def _turned_words(
    laid: CycleAlignment, sides: tuple[ComparedCapture, ComparedCapture]
) -> tuple[str, ...]:
    if not laid.better_by:
        return ()
    firings = (
        ngettext("one firing later", "{count} firings later", laid.better_by)
        if laid.better_by > 0
        else ngettext("one firing earlier", "{count} firings earlier", -laid.better_by)
    ).format(count=abs(laid.better_by))
    return (
        _(
            "The {second} has the pattern of the {first}, but {firings} in the firing order: "
            "verify the sync of both before you believe that another cylinder is low."
        ).format(second=sides[1].name, first=sides[0].name, firings=firings),
    )


def _findings_words(sides: tuple[ComparedCapture, ComparedCapture]) -> tuple[str, ...]:
    told = []
    for side in sides:
        codes = {f.code for f in side.report.findings}
        if codes & {"comes-and-goes", "low-at-first"}:
            told.append(
                _(
                    "In the {name} a cylinder is low in some cycles only: its curve is the "
                    "mean of the cycles in which it is well, its figure is that of all."
                ).format(name=side.name)
            )
        if "which-cylinder" in codes:
            told.append(
                _(
                    "In the {name} it is in doubt which cylinder is which; read its findings."
                ).format(name=side.name)
            )
    return tuple(told)
