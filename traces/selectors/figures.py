"""Curves of a capture for screen and paper: never more points than pixels can show."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from html import escape
from typing import Any, TypeAlias, cast

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from traces.core.conditioning import amps_per_unit, condition
from traces.core.minmax import envelope
from traces.core.picture import Picture, evidence_picture, evidence_stretch
from traces.core.results import Report
from traces.core.setup import AnalysisSetup
from traces.core.signals.display import SHOWN, evidence_curve, speed_curve
from traces.core.waveform import Channel, Waveform
from traces.models import Reading, Run
from traces.selectors.cycle_figures import fitted_traces
from traces.selectors.figure_marks import View, hump_traces, marks, note_marks
from traces.selectors.notes import note_places
from traces.selectors.samples import StoredSamples, rate_hz_of, start_s_of, stored_samples

PIXELS = 1200
_EVIDENCE_MARGIN_S = 0.5  # around the evidence, so that filtering it has no edges in sight

Curve: TypeAlias = tuple[NDArray[np.float64], NDArray[np.float32]]


@dataclass(frozen=True, slots=True, eq=False)
class _Stored:
    """A capture's compact copy on its time base."""

    samples: StoredSamples
    t0_s: float
    rate_hz: float

    def curve(self, channel: int, view: View, *, factor: float = 1.0) -> Curve:
        """Return times in seconds and values times `factor`, NaN at gaps."""
        size = self.samples.values.shape[1]
        points = envelope(
            self.samples.values[channel],
            self.samples.blocks[channel],
            pixels=PIXELS,
            # One sample more on either side, so that the line reaches the frame.
            first=self.index(view.from_s, 0) - 1,
            last=self.index(view.to_s, size) + 2,
        )
        times_s = np.round(self.t0_s + points.at_idx / self.rate_hz, 7)
        return times_s, (points.values * np.float32(factor)).astype(np.float32)

    def index(self, time_s: float | None, otherwise: int) -> int:
        """Return the sample at a time, inside the recording."""
        if time_s is None:
            return otherwise
        at = (time_s - self.t0_s) * self.rate_hz
        return int(min(max(at, 0), self.samples.values.shape[1]))


def run_figure(run: Run, view: View) -> dict[str, Any]:
    """Return the plot of a run as Plotly's `data` and `layout`.

    Current in amps, cranking upwards, each hump named by its cylinder, the sync channel
    below; the judged span, sync events and findings are marked. Colours are named by token.
    """
    reading, setup, report = run.reading, run.setup.analysis, run.report
    stored = _stored(reading, setup)
    clamp = _channel_index(reading, setup.current_channel)
    shown = SHOWN[setup.signal]
    axis = shown.axis
    if setup.signal == "starter-current":
        factor, amps_known = amps_per_unit(_channel(reading, clamp), setup)
        inverted = report.inverted if report else bool(setup.invert)
        times_s, current = stored.curve(clamp, view, factor=-factor if inverted else factor)
        axis = axis if amps_known else "clamp current, scale not known"
    elif setup.signal == "crank-teeth" and report and report.extra.get("speed"):
        times_s, current = _speed(report, view)
    else:
        times_s, current = stored.curve(clamp, view)
        axis = _channel(reading, clamp).unit or "the recorder's own unit"
    figure = go.Figure()
    colours: list[str] = []

    def add(trace: go.Scatter, colour: str) -> None:
        figure.add_trace(trace)
        colours.append(colour)

    add(
        go.Scatter(
            x=times_s,
            y=current,
            mode="lines",
            name=shown.name,
            showlegend=False,
            line={"width": 1.5},
            hovertemplate=f"%{{x:.4f}} s, %{{y:.2f}} {shown.unit}<extra></extra>",
        ),
        "ink",
    )
    for trace, colour in hump_traces(report, view, shown.unit) if report else ():
        add(trace, colour)
    for trace, colour in fitted_traces(report, setup, view, PIXELS) if report else ():
        add(trace, colour)
    if setup.sync:
        sync = _channel_index(reading, setup.sync.channel)
        times_s, values = stored.curve(sync, view)
        unit = _channel(reading, sync).unit or "share of full scale"
        add(
            go.Scatter(
                x=times_s,
                y=values,
                yaxis="y2",
                mode="lines",
                name=f"sync ({escape(setup.sync.channel)})",
                showlegend=False,
                line={"width": 1.2},
                hovertemplate=f"%{{x:.4f}} s, %{{y:.2f}} {escape(unit)}<extra></extra>",
            ),
            "pen",
        )
    figure.update_layout(_layout(setup, view, axis=axis))
    found = cast("dict[str, Any]", figure.to_plotly_json())
    for trace, colour in zip(found["data"], colours, strict=True):
        for part in ("line", "marker", "textfont"):
            trace.setdefault(part, {})["color"] = f"token:{colour}"
    found["layout"]["shapes"], found["layout"]["annotations"] = marks(report, view)
    found["layout"]["annotations"] += note_marks(note_places(run.capture_id), view)
    found["layout"].pop("template", None)
    return found


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
    stored = _stored(reading, setup)
    clamp = _channel_index(reading, setup.current_channel)
    first = stored.index(stretch.from_s - _EVIDENCE_MARGIN_S, 0)
    last = stored.index(stretch.to_s + _EVIDENCE_MARGIN_S, 0) + 1
    values = np.array(stored.samples.values[clamp, first:last])
    if np.isfinite(values).sum() < 2:
        return None
    channel = _channel(reading, clamp, values)
    part = Waveform(stored.t0_s + first / stored.rate_hz, stored.rate_hz, (channel,))
    if setup.signal == "starter-current":
        conditioned = condition(part, channel, replace(setup, invert=report.inverted))
        times_s, curve = conditioned.times_s, conditioned.current_a
    else:
        times_s, curve = evidence_curve(part, channel, setup, report)
        inside = (times_s >= stretch.from_s) & (times_s <= stretch.to_s)
        if inside.sum() < 2:
            return None
    shown = SHOWN[setup.signal]
    return evidence_picture(
        report, stretch, times_s, curve, marked=marked, axis=shown.evidence, name=shown.name
    )


def _layout(setup: AnalysisSetup, view: View, *, axis: str) -> dict[str, Any]:
    layout: dict[str, Any] = {
        "xaxis": {"title": {"text": "seconds"}, "anchor": "y2" if setup.sync else "y"},
        "yaxis": {
            "title": {"text": axis},
            "domain": [0.3, 1.0] if setup.sync else [0.0, 1.0],
        },
        "hovermode": "closest",
    }
    if setup.sync:
        layout["yaxis2"] = {
            "title": {"text": "sync"},
            "domain": [0.0, 0.2],
            "anchor": "x",
        }
    if view.from_s is not None and view.to_s is not None:
        layout["xaxis"]["range"] = [view.from_s, view.to_s]
    return layout


def _speed(report: Report, view: View) -> Curve:
    at_s, rpm = speed_curve(report)
    inside = np.array([view.holds(float(t)) for t in at_s], dtype=np.bool_)
    return at_s[inside], rpm[inside].astype(np.float32)


def _stored(reading: Reading, setup: AnalysisSetup) -> _Stored:
    return _Stored(
        samples=stored_samples(reading),
        t0_s=start_s_of(reading),
        # A run is only made when file or set-up say the rate.
        rate_hz=rate_hz_of(reading, setup) or 1.0,
    )


def _channel(reading: Reading, index: int, values: NDArray[np.float32] | None = None) -> Channel:
    described = reading.channels[index]
    return Channel(
        name=described["name"],
        unit=described["unit"],
        values=np.empty(0, dtype=np.float32) if values is None else values,
    )


def _channel_index(reading: Reading, wanted: str) -> int:
    """Return the index of a channel that the set-up names; the run was checked against it."""
    names = [str(c["name"]).casefold() for c in reading.channels]
    name = wanted.strip().casefold()
    return names.index(name) if name in names else int(name) - 1
