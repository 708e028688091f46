"""Pictures of a run's engine cycles: the fitted curve, the strip cycle by cycle."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy  # whose parts load when first used: the web process draws without analysing
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from numpy.typing import NDArray

from traces.core.drawings import (
    CycleColumn,
    CyclePicture,
    Strip,
    cycle_columns,
    cycle_picture,
    cycle_strip,
)
from traces.core.findings import place_letter
from traces.core.humps import Limits
from traces.core.report import CycleFit, Report
from traces.core.setup import AnalysisSetup
from traces.core.signals import shown_as
from traces.core.waveform import Channel, amps_per_unit
from traces.models import Run
from traces.selectors.curves import channel_index, described
from traces.selectors.figure_marks import View

FITTED = gettext_lazy("fitted curve")
"""Name of the trace, and of the check box that shows it."""

_MOST_POINTS = 500_000

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cell:
    """One cylinder's figure in one cycle; None where it was not used."""

    name: str
    value: float | None


@dataclass(frozen=True, slots=True)
class CycleRow:
    """One engine cycle's figures in firing sequence; `left_out` says why it has none."""

    number: int
    cells: tuple[Cell, ...]
    left_out: str = ""


def cycle_rows(report: Report) -> tuple[CycleRow, ...]:
    """Return the figures cycle by cycle, numbered as in the plot."""
    known = report.cylinders_known
    name = _("cylinder %(number)s") if known else _("place %(number)s")
    names = [
        name % {"number": e.name if known else place_letter(e.position)} for e in report.estimates
    ]
    return tuple(_row(column, names) for column in cycle_columns(report))


def _row(column: CycleColumn, names: list[str]) -> CycleRow:
    values = column.values or (None,) * len(names)
    cells = tuple(Cell(name, value) for name, value in zip(names, values, strict=True))
    return CycleRow(column.number, cells, column.words or column.reason)


def run_strip(report: Report, setup: AnalysisSetup) -> Strip | None:
    """Return the strip cycle by cycle; None where there are no figures by cycle."""
    return cycle_strip(report, Limits(setup.suspect_below, setup.watch_below))


def run_cycle_picture(run: Run) -> CyclePicture | None:
    """Return one engine cycle as measured and as fitted; None where nothing was fitted."""
    report, setup = run.report, run.setup.analysis
    if report is None or not report.estimates:
        return None
    shown = shown_as(setup.signal)
    if setup.kind.cycle_in_percent:
        return cycle_picture(report, axis=shown.evidence, name=shown.name, unit="%")
    if setup.kind.needs_scale and not _amps_known(run, setup):
        axis = _("% of the mean current; scale not known")
        return cycle_picture(report, axis=axis, name=shown.name, unit="%", scale=100.0)
    if report.parts.cycle_fit is None or report.parts.cycle_fit.level is None:
        axis = _("% of the mean")
        return cycle_picture(report, axis=axis, name=shown.name, unit="%", scale=100.0)
    return cycle_picture(report, axis=shown.evidence, name=shown.name, unit=shown.unit)


def _amps_known(run: Run, setup: AnalysisSetup) -> bool:
    return amps_per_unit(_judged_channel(run, setup), setup)[1]


def _judged_channel(run: Run, setup: AnalysisSetup) -> Channel:
    return described(run.reading, channel_index(run.reading, setup.current_channel))


def fitted_traces(
    report: Report, setup: AnalysisSetup, view: View, pixels: int
) -> list[tuple[dict[str, Any], str]]:
    """Return the fitted cycle laid over every engine cycle used, with its colour.

    Empty where nothing was fitted, or results are from before the cycles were told.
    """
    fit, cycles = report.parts.cycle_fit, report.engine_cycles
    if not report.estimates or fit is None or fit.level is None or not cycles:
        return []
    seen = [c for c in cycles if c.used and view.touches(c.from_s, c.to_s)]
    if not seen:
        return []
    edges_s = np.array([*(c.from_s for c in cycles), cycles[-1].to_s])
    if cycles[-1].reason == "cut":
        # what is left at the end is no whole cycle: its length would bend the others
        edges_s = edges_s[:-1]
    count = np.arange(edges_s.size, dtype=np.float64)
    passed = scipy.interpolate.PchipInterpolator(edges_s, count) if count.size > 1 else None
    if passed is None:
        return []
    begin_s = max(view.from_s if view.from_s is not None else -np.inf, seen[0].from_s)
    end_s = min(view.to_s if view.to_s is not None else np.inf, seen[-1].to_s)
    fine = min(len(fit.model) * len(seen), _MOST_POINTS)
    a_bucket = max(1, -(-fine // pixels))
    times_s = np.linspace(begin_s, end_s, a_bucket * pixels if a_bucket > 2 else max(2, fine))
    used = np.zeros(times_s.size, dtype=np.bool_)
    for cycle in seen:
        used |= (times_s >= cycle.from_s) & (times_s <= cycle.to_s)
    share = (passed(times_s) + fit.begins_at) % 1.0
    values = _shown(_model_at(fit, share), fit, report, setup)
    if a_bucket > 2:
        times_s, values, used = _extremes(times_s, values, used, a_bucket)
    trace = {
        "type": "scatter",
        "x": np.round(times_s, 5).tolist(),
        "y": [
            value if seen_there else None
            for value, seen_there in zip(np.round(values, 3).tolist(), used.tolist(), strict=True)
        ],
        "mode": "lines",
        "name": str(FITTED),
        "showlegend": False,
        "connectgaps": False,
        "line": {"width": 1.8, "dash": "dash"},
        # It lies on the measured curve: what is pointed at is that one.
        "hoverinfo": "skip",
        "meta": {"toggle": str(FITTED)},
    }
    return [(trace, "pen")]


def _extremes(
    times_s: Floats, values: Floats, used: NDArray[np.bool_], a_bucket: int
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return lowest and highest of each bucket, in time order: a thinned wave would lie."""
    rows = np.where(used, values, np.nan).reshape(-1, a_bucket)
    starts = np.arange(rows.shape[0]) * a_bucket
    lowest = np.argmin(np.where(np.isnan(rows), np.inf, rows), axis=1)
    highest = np.argmax(np.where(np.isnan(rows), -np.inf, rows), axis=1)
    at = (starts[:, None] + np.sort(np.stack((lowest, highest), axis=1), axis=1)).ravel()
    return times_s[at], values[at], used[at]


def _model_at(fit: CycleFit, share: Floats) -> Floats:
    model = np.array(fit.model)
    at = np.array(fit.share or np.arange(model.size) / model.size)
    return np.asarray(np.interp(share, at, model, period=1.0), dtype=np.float64)


def _shown(model: Floats, fit: CycleFit, report: Report, setup: AnalysisSetup) -> Floats:
    """Return the fitted cycle in the plot's own unit."""
    return setup.kind.in_plot(model, fit.rest, fit.level or 0.0, report.cranking_rpm or 0.0)
