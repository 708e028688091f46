"""One cylinder's pressure as its page shows it: drawings, figures, and what is laid beside it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from shopdiag.people.models import Member
from traces.core.drawings import PressurePicture, strokes_picture, volume_picture
from traces.core.pressure_compared import beside_known_good
from traces.core.report import FigureRow, PressureFigures, beside_rows, figure_rows
from traces.models import ONE_CYLINDER, KnownGood, Run, Work

NOTHING_BESIDE = "none"
_MOST_OFFERED = 8


@dataclass(frozen=True, slots=True)
class Earlier:
    """Another capture of the same cylinder of the same vehicle, and what to call it."""

    run: Run
    name: str


EARLIER: list[Callable[[Run], tuple[Earlier, ...]]] = []
"""Who knows of other captures of the same vehicle, the one to show first in front."""


@dataclass(frozen=True, slots=True)
class BesideChoice:
    """A capture that can be laid beside the one shown."""

    value: str
    name: str
    is_shown: bool


@dataclass(frozen=True, slots=True)
class PressurePage:
    """What the page of one cylinder's pressure shows.

    Parameters
    ----------
    picture, low, by_volume
        Over the four strokes, the same enlarged near the air's pressure, and by volume where the
        compression ratio is known.
    rows, beside
        Figures in words, and how they differ from the capture beside it.
    beside_run, beside_name
        That capture; None and "" without one.
    why_not
        Why the one asked for is not compared; "" where it is.
    choices
        What can be laid beside it.
    """

    figures: PressureFigures
    picture: PressurePicture
    low: PressurePicture
    by_volume: PressurePicture | None
    rows: tuple[FigureRow, ...]
    beside: tuple[FigureRow, ...]
    beside_run: Run | None
    beside_name: str
    why_not: str
    choices: tuple[BesideChoice, ...]


def pressure_page(member: Member, run: Run, asked: str = "") -> PressurePage | None:
    """Return what the page of a run shows of a cylinder's pressure; None where it has none.

    Parameters
    ----------
    asked
        Number of the run to lay beside it, or `none`; empty leaves the choice to the page: an
        earlier capture of the same cylinder, else a known-good one of that engine.
    """
    report = run.report
    figures = report.parts.pressure if report else None
    if figures is None:
        return None
    found = beside_choices(member, run)
    chosen = next((one for one in found if str(one.run.pk) == asked), None)
    if chosen is None and not asked:
        chosen = next((one for one in found if _state(one.run) == figures.state), None)
    other = _figures(chosen.run) if chosen else None
    beside = beside_known_good(figures, other, "") if other is not None else None
    compared = replace(figures, beside=beside)
    names = (_("this capture"), chosen.name if chosen else "")
    drawn = other if beside is not None else None
    return PressurePage(
        figures=figures,
        picture=strokes_picture(figures, drawn, names),
        low=strokes_picture(figures, drawn, names, is_low=True),
        by_volume=volume_picture(figures, drawn, names),
        rows=figure_rows(figures),
        beside=beside_rows(compared),
        beside_run=chosen.run if chosen else None,
        beside_name=names[1],
        why_not=_("One was cranked and the other idled; no angle or pressure of theirs compares.")
        if other is not None and beside is None
        else "",
        choices=tuple(
            BesideChoice(str(one.run.pk), one.name, is_shown=one is chosen) for one in found
        ),
    )


def beside_choices(member: Member, run: Run) -> tuple[Earlier, ...]:
    """Return what a cylinder's pressure can be laid beside: earlier ones, then known-good ones."""
    found = [one for source in EARLIER for one in source(run)]
    engine = run.setup.engine
    if engine is not None:
        kept = (
            KnownGood.objects.seen_by(member)
            .filter(engine=engine, retired_at=None)
            .filter(run__in=Run.objects.filter(ONE_CYLINDER, state=Work.State.DONE))
            .exclude(run=run)
            .select_related("run__capture", "run__setup")
            .order_by("-pk")[:_MOST_OFFERED]
        )
        found += [
            Earlier(entry.run, _("known good, %(capture)s") % {"capture": entry.run.capture})
            for entry in kept
        ]
    seen: set[int] = set()
    once = []
    for one in found:
        if one.run.pk not in seen and _figures(one.run) is not None:
            seen.add(one.run.pk)
            once.append(one)
    return tuple(once[:_MOST_OFFERED])


def _figures(run: Run) -> PressureFigures | None:
    report = run.report
    return report.parts.pressure if report else None


def _state(run: Run) -> str:
    figures = _figures(run)
    return figures.state if figures else ""
