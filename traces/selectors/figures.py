"""Plots of a run and of a capture as it was recorded, and a run's evidence picture."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from traces.core.drawings import Picture, evidence_picture, evidence_stretch
from traces.core.report import Report
from traces.core.setup import AnalysisSetup
from traces.core.signals import evidence_curve, shown_as, speed_curve
from traces.core.waveform import Waveform, amps_per_unit, condition
from traces.models import Reading, Run
from traces.selectors.curves import (
    Look,
    RecordedCurve,
    channel_index,
    channel_line,
    described,
    recording_of,
    uneven_line,
)
from traces.selectors.cycle_figures import fitted_traces
from traces.selectors.figure_marks import View, hump_traces, marks, note_marks
from traces.selectors.notes import note_places

PIXELS = View().pixels
MOST_CHANNELS = 6
"""Channels that one plot shows above each other."""

_EVIDENCE_MARGIN_S = 0.5  # around the evidence, so that filtering it has no edges in sight
_BETWEEN = 0.06  # between two channels above each other, of the plot's height
_NO_UNIT = gettext_lazy("the recorder's own unit")


@dataclass(frozen=True, slots=True)
class Judged:
    """The channel that a run judges, as it is shown.

    Parameters
    ----------
    channel
        Its index.
    factor
        From the file's unit to the one shown, turned round where the clamp was.
    name, unit, axis
        In words.
    """

    channel: int
    factor: float
    name: str
    unit: str
    axis: str


def judged_channel(run: Run, report: Report | None) -> Judged:
    """Return how a run's channel is shown: starter current in amps, cranking upwards."""
    reading, setup = run.reading, run.setup.analysis
    clamp = channel_index(reading, setup.current_channel)
    shown = shown_as(setup.signal)
    if setup.kind.is_current:
        factor, amps_known = amps_per_unit(described(reading, clamp), setup)
        inverted = report.inverted if report else bool(setup.invert)
        axis = shown.axis if amps_known else _("clamp current, scale not known")
        return Judged(clamp, -factor if inverted else factor, shown.name, shown.unit, axis)
    own = described(reading, clamp).unit or str(_NO_UNIT)
    return Judged(clamp, 1.0, shown.name, shown.unit, own)


def run_figure(run: Run, view: View) -> dict[str, Any]:
    """Return the plot of a run as Plotly's `data` and `layout`.

    Current in amps, cranking upwards, each hump named by its cylinder, the sync channel
    below; the judged span, sync events and findings are marked. Colours are named by token.
    `layout.meta` tells the recording's own bounds and rate.
    """
    reading, setup, report = run.reading, run.setup.analysis, run.report
    recording = recording_of(reading, setup)
    judged = judged_channel(run, report)
    axis, look = judged.axis, Look(judged.name, judged.unit)
    teeth = report.parts.teeth if report else None
    if report and teeth and teeth.speed_at_s:
        times_s, rpm = speed_curve(report)
        axis = shown_as(setup.signal).axis
        curve = uneven_line(times_s, rpm.astype(np.float32), view, look)
    else:
        curve = channel_line(recording, judged.channel, view, look, factor=judged.factor)
    data = [curve]
    for trace, colour in _of_report(report, setup, view, judged.unit) if report else ():
        found = dict(trace)
        for part in ("line", "marker", "textfont"):
            found[part] = found.get(part, {}) | {"color": f"token:{colour}"}
        data.append(found)
    if setup.sync:
        sync = channel_index(reading, setup.sync.channel)
        unit = described(reading, sync).unit or _("share of full scale")
        name = _("sync (%(channel)s)") % {"channel": setup.sync.channel}
        look = Look(name, unit, colour="pen", width=1.2, yaxis="y2")
        data.append(channel_line(recording, sync, view, look))
    layout: dict[str, Any] = {
        "xaxis": _x_axis(recording, view, anchor="y2" if setup.sync else "y"),
        "yaxis": {"title": {"text": axis}, "domain": [0.3 if setup.sync else 0.0, 1.0]},
        "hovermode": "closest",
        "meta": recording.meta(),
    }
    if setup.sync:
        layout["yaxis2"] = {
            "title": {"text": _("sync")},
            "domain": [0.0, 0.2],
            "anchor": "x",
            "nticks": 3,  # more would lie on each other in so low a strip
        }
    layout["shapes"], layout["annotations"] = marks(report, view)
    layout["annotations"] += note_marks(note_places(run.capture_id), view)
    return {"data": data, "layout": layout}


def _of_report(
    report: Report, setup: AnalysisSetup, view: View, unit: str
) -> Iterator[tuple[dict[str, Any], str]]:
    yield from hump_traces(report, view, unit)
    yield from fitted_traces(report, setup, view, view.pixels)


def chosen_channels(reading: Reading, wanted: Sequence[int]) -> tuple[int, ...]:
    """Return the indices of the channels to show: those wanted that there are, else the first."""
    present = range(len(reading.channels))
    return tuple(sorted({i for i in wanted if i in present}) or present)[:MOST_CHANNELS]


def reading_figure(reading: Reading, view: View, channels: Sequence[int] = ()) -> dict[str, Any]:
    """Return a capture as it was recorded: its channels above each other on one time axis.

    In the file's own units. `channels` are indices; the first few where none is given.
    """
    recording = recording_of(reading)
    shown = chosen_channels(reading, channels)
    height = (1.0 + _BETWEEN) / max(len(shown), 1)
    data, words = [], []
    layout: dict[str, Any] = {"hovermode": "closest", "meta": recording.meta()}
    for place, index in enumerate(shown):
        number = "" if place == 0 else str(place + 1)
        top = 1.0 - place * height
        channel = described(reading, index)
        unit = channel.unit or ""
        look = Look(channel.name, unit, width=1.2, yaxis=f"y{number}")
        data.append(channel_line(recording, index, view, look))
        layout[f"yaxis{number}"] = {
            "domain": [max(top - height + _BETWEEN, 0.0), top],
            "anchor": "x",
            "nticks": 4,
        }
        words.append(_channel_word(f"{channel.name} ({unit})" if unit else channel.name, top))
    last = "" if len(shown) < 2 else str(len(shown))
    layout["xaxis"] = _x_axis(recording, view, anchor=f"y{last}")
    return {"data": data, "layout": layout | {"shapes": [], "annotations": words}}


def run_evidence(run: Run, *, marked: Collection[int] | None = None) -> Picture | None:
    """Return the evidence picture of a run; None when its report names no humps.

    Parameters
    ----------
    marked
        Cylinders to mark instead of those called low, where a person decided otherwise.
    """
    report = run.report
    stretch = evidence_stretch(report) if report else None
    if report is None or stretch is None:
        return None
    reading, setup = run.reading, run.setup.analysis
    stored = recording_of(reading, setup)
    clamp = channel_index(reading, setup.current_channel)
    first = stored.index(stretch.from_s - _EVIDENCE_MARGIN_S, 0)
    last = stored.index(stretch.to_s + _EVIDENCE_MARGIN_S, 0) + 1
    values = np.array(stored.samples.values[clamp, first:last])
    if np.isfinite(values).sum() < 2:
        return None
    channel = described(reading, clamp, values)
    part = Waveform(stored.t0_s + first / stored.rate_hz, stored.rate_hz, (channel,))
    if setup.kind.is_current:
        conditioned = condition(part, channel, replace(setup, invert=report.inverted))
        times_s, curve = conditioned.times_s, conditioned.current_a
    else:
        times_s, curve = evidence_curve(part, channel, setup, report)
        inside = (times_s >= stretch.from_s) & (times_s <= stretch.to_s)
        if inside.sum() < 2:
            return None
    shown = shown_as(setup.signal)
    return evidence_picture(
        report, stretch, times_s, curve, marked=marked, axis=shown.evidence, name=shown.name
    )


def _x_axis(recording: RecordedCurve, view: View, *, anchor: str) -> dict[str, Any]:
    words = {"s": _("seconds"), "samples": _("samples")}[recording.unit]
    axis: dict[str, Any] = {"title": {"text": words}, "anchor": anchor}
    if view.from_s is not None and view.to_s is not None:
        axis["range"] = [view.from_s, view.to_s]
    return axis


def _channel_word(text: str, top: float) -> dict[str, Any]:
    return {
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": top,
        "xanchor": "left",
        "yanchor": "top",
        "text": escape(text),
        "showarrow": False,
        "font": {"size": 13, "color": "token:ink"},
        "bgcolor": "token:card",
    }
