"""What a run can be laid beside, and the two laid beside each other."""

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext

from engines.core.firing import CYCLE_DEG
from shopdiag.people.core.words import Text
from shopdiag.people.models import Member
from traces.core.comparison import (
    DIFFERENCE_SOURCE,
    STEP_DEG,
    ComparedCapture,
    CompareError,
    Comparison,
    compare,
)
from traces.core.drawings import ComparePicture, compare_picture
from traces.core.waveform import Floats
from traces.models import COMPRESSIONS, KnownGood, Run, Work
from traces.selectors.known_good import known_good_found

Occasion: TypeAlias = Literal["", "repair"]

MOST_OFFERED = 30


@dataclass(frozen=True, slots=True)
class Choices:
    """Judged runs that a run can be laid beside.

    Parameters
    ----------
    known_good
        The shop's known-good ones of this engine.
    same_capture
        Other analyses of the same capture, the newest.
    same_engine
        The newest analysis of each other capture of the same engine, newest first.
    more_captures
        Whether there are more of these than are offered.
    """

    known_good: tuple[KnownGood, ...]
    same_capture: tuple[Run, ...]
    same_engine: tuple[Run, ...]
    more_captures: bool

    @property
    def any(self) -> bool:
        """Whether there is anything to choose."""
        return bool(self.known_good or self.same_capture or self.same_engine)


@dataclass(frozen=True, slots=True)
class ComparedRuns:
    """Two runs beside each other, ready for a template.

    `refused` says why they cannot be compared; then there is no comparison.
    """

    first: Run
    second: Run
    first_name: str
    second_name: str
    comparison: Comparison | None
    refused: str = ""
    source: Text = DIFFERENCE_SOURCE

    @property
    def picture(self) -> ComparePicture | None:
        """Both curves drawn."""
        if self.comparison is None:
            return None
        return compare_picture(self.comparison, (self.first_name, self.second_name))


def choices_for(member: Member, run: Run) -> Choices:
    """Return what a run can be laid beside; all of the member's shop."""
    judged = _judged(member).defer("result").exclude(pk=run.pk)
    engine = run.setup.engine
    kept: tuple[KnownGood, ...] = ()
    if engine is not None:
        found = known_good_found(member, engine=engine).exclude(run=run).defer("run__result")
        found = found.filter(run__in=Run.objects.filter(COMPRESSIONS))
        kept = tuple(found[:MOST_OFFERED])
    alike = judged.exclude(capture_id=run.capture_id)
    alike = (
        alike.filter(setup__engine=engine)
        if engine is not None
        else alike.filter(setup__settings__firing_order=run.setup.settings["firing_order"])
    )
    newest = alike.filter(capture=OuterRef("capture")).order_by("-pk").values("pk")
    others = alike.exclude(pk__in=[e.run_id for e in kept])
    others = others.filter(pk=Subquery(newest[:1])).order_by("-capture_id", "-pk")
    shown = tuple(others[: MOST_OFFERED + 1])
    return Choices(
        known_good=kept,
        same_capture=tuple(judged.filter(capture_id=run.capture_id)[:MOST_OFFERED]),
        same_engine=shown[:MOST_OFFERED],
        more_captures=len(shown) > MOST_OFFERED,
    )


def compared(member: Member, run: Run, with_pk: int, occasion: Occasion = "") -> ComparedRuns:
    """Lay a run beside another one of the member's shop.

    Parameters
    ----------
    occasion
        `repair` where `with_pk` was made before one and `run` after it.

    Raises
    ------
    Run.DoesNotExist
        If there is none, or it is another shop's.
    """
    other = Run.objects.seen_by(member).select_related(*_RELATED)
    first, second, names = _in_order(member, run, other.get(pk=with_pk), occasion)
    comparison, refused = None, ""
    try:
        if first.pk == second.pk:
            raise CompareError(
                gettext("This is one and the same analysis; choose another one beside it.")
            )
        comparison = compare(_side(names[0], first), _side(names[1], second))
    except CompareError as error:
        refused = str(error)
    return ComparedRuns(first, second, *names, comparison, refused)


_RELATED = ("capture__uploaded_by__user", "setup__engine", "setup__created_by__user")


def _judged(member: Member) -> "QuerySet[Run]":
    return (
        Run.objects.seen_by(member)
        .filter(COMPRESSIONS, state=Work.State.DONE)
        .exclude(verdict__in=["", "not judged"])
        .select_related(*_RELATED)
    )


def _in_order(
    member: Member, run: Run, other: Run, occasion: Occasion
) -> tuple[Run, Run, tuple[str, str]]:
    """Return both runs, what comes first first, and what sentences call them."""
    kept = set(
        KnownGood.objects.seen_by(member)
        .filter(run__in=[run, other], retired_at=None)
        .values_list("run_id", flat=True)
    )
    if occasion == "repair":
        return other, run, (gettext("capture before"), gettext("capture after"))
    if len(kept) == 1:
        pair = (run, other) if run.pk in kept else (other, run)
        return *pair, (gettext("known-good capture"), gettext("capture in question"))
    first, second = sorted((run, other), key=lambda r: (r.capture_id, r.pk))
    if first.capture_id == second.capture_id:
        return first, second, (gettext("earlier analysis"), gettext("later analysis"))
    return first, second, (gettext("earlier capture"), gettext("later capture"))


def _side(name: str, run: Run) -> ComparedCapture:
    report = run.report
    if report is None:
        raise CompareError(
            gettext("One of the two is not analysed yet; wait for it, or choose another.")
        )
    return ComparedCapture(name, report, run.setup.analysis, run.setup.conditions)


def compare_figure(found: ComparedRuns) -> dict[str, Any] | None:
    """Return both cycles as Plotly's `data` and `layout`, by crank angle; None without curves.

    The cycle is short: all of it is given whatever stretch is looked at. `layout.meta` says that
    its unit is degrees.
    """
    comparison = found.comparison
    curves = comparison.curves if comparison else None
    if comparison is None or curves is None:
        return None
    at_deg = [*curves.angle_deg.tolist(), CYCLE_DEG]

    def line(name: str, values: Floats, **style: Any) -> dict[str, Any]:  # noqa: ANN401 - Plotly's
        closed = np.append(values, values[0])
        return {
            "type": "scatter",
            "mode": "lines",
            "name": name,
            "x": at_deg,
            "y": [round(float(v), 4) for v in closed],
            "line": {"color": "token:ink", "width": 2, **style},
            "hovertemplate": f"%{{x:.0f}}°, %{{y:.4~g}} {curves.unit}<extra>{name}</extra>",
        }

    words = gettext("difference")
    difference = line(words, curves.second - curves.first, color="token:pen", dash="dot")
    difference |= {"visible": False, "meta": {"toggle": words}}
    names = [(r.name, r.tdc_deg, r.told_apart) for r in comparison.rows]
    layout = {
        "xaxis": {"title": {"text": gettext("crank degrees")}, "dtick": 90},
        "yaxis": {"title": {"text": curves.axis}},
        "hovermode": "closest",
        "meta": {"start_s": 0.0, "end_s": CYCLE_DEG, "rate_hz": 1 / STEP_DEG, "unit": "deg"},
        "shapes": [
            {
                "type": "line",
                "xref": "x",
                "yref": "paper",
                "x0": deg,
                "x1": deg,
                "y0": 0,
                "y1": 1,
                "line": {"dash": "dot", "width": 1, "color": "token:ink"},
            }
            for _, deg, _ in names
        ],
        "annotations": [
            {
                "xref": "x",
                "yref": "paper",
                "x": deg,
                "y": 1,
                "yanchor": "top",
                "xanchor": "left",
                "text": gettext("%(name)s changed") % {"name": name} if apart else name,
                "showarrow": False,
                "font": {"size": 15, "color": "token:ink"},
                "bgcolor": "token:card",
            }
            for name, deg, apart in names
        ],
    }
    traces = [
        line(found.first_name, curves.first, dash="dash"),
        line(found.second_name, curves.second),
        difference,
    ]
    return {"data": traces, "layout": layout}
