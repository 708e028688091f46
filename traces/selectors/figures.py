"""Curves of a capture for screen and paper: never more points than pixels can show."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from html import escape
from typing import Any, TypeAlias, cast

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from traces.core.conditioning import amps_per_unit, condition
from traces.core.minmax import envelope
from traces.core.picture import Picture, evidence_picture, evidence_stretch
from traces.core.results import Call, Finding, Hump, Report
from traces.core.setup import AnalysisSetup
from traces.core.signals.display import SHOWN, evidence_curve, speed_curve
from traces.core.waveform import Channel, Waveform
from traces.models import Reading, Run
from traces.selectors.samples import StoredSamples, rate_hz_of, start_s_of, stored_samples

PIXELS = 1200
_EVIDENCE_MARGIN_S = 0.5  # around the evidence, so that filtering it has no edges in sight
_MOST_MARKS = 400
_MOST_NAMES = 48
_BESIDE = {"A": "above its valleys", "V": "below its crests", "rpm": "below its crests"}
_SPARK_WIDTH, _SPARK_HEIGHT = 240, 48

Curve: TypeAlias = tuple[NDArray[np.float64], NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class View:
    """The stretch of a plot in the file's own time; None means to the end."""

    from_s: float | None = None
    to_s: float | None = None

    def holds(self, time_s: float) -> bool:
        """Return whether a time lies in the stretch."""
        after = self.from_s is None or time_s >= self.from_s
        return after and (self.to_s is None or time_s <= self.to_s)


@dataclass(frozen=True, slots=True)
class Sparkline:
    """A channel's small preview.

    Parameters
    ----------
    name, unit
        Of the channel.
    path
        The curve in drawing units, 240 by 48; empty where the channel holds nothing.
    minimum, maximum
        In the channel's unit; None where the channel holds nothing.
    """

    name: str
    unit: str | None
    path: str
    minimum: float | None
    maximum: float | None
    width: int = _SPARK_WIDTH
    height: int = _SPARK_HEIGHT


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


def sparklines(reading: Reading) -> tuple[Sparkline, ...]:
    """Return a preview of each of a capture's channels."""
    samples = stored_samples(reading)
    found = []
    for i, channel in enumerate(reading.channels):
        points = envelope(samples.values[i], samples.blocks[i], pixels=_SPARK_WIDTH // 2)
        found.append(
            Sparkline(
                name=channel["name"],
                unit=channel["unit"],
                path=_path(points.at_idx, points.values),
                minimum=channel["minimum"],
                maximum=channel["maximum"],
            )
        )
    return tuple(found)


def run_figure(run: Run, view: View) -> dict[str, Any]:
    """Return the plot of a run as Plotly's `data` and `layout`.

    Current in amps, cranking upwards, each hump named by its cylinder, the sync channel
    below; the judged span, sync events and findings are marked. Colours are named by token.
    """
    reading, setup, report = run.capture.reading, run.setup.analysis, run.report
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
    for trace, colour in _hump_traces(report, view, shown.unit) if report else ():
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
    found["layout"]["shapes"], found["layout"]["annotations"] = _marks(report, view)
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
    reading, setup = run.capture.reading, run.setup.analysis
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


def _hump_traces(report: Report, view: View, unit: str) -> Iterable[tuple[go.Scatter, str]]:
    """Yield the humps' names, those of low cylinders apart and with a sign of their own."""
    calls: dict[int, Call] = {e.position: e.call for e in report.estimates}
    humps = [h for h in report.humps if view.holds(h.at_s)][:_MOST_MARKS]
    kinds: tuple[tuple[Call, str, str, str], ...] = (
        ("sound", "sound", "circle", "ink"),
        ("watch", "watch", "triangle-down-open", "warn"),
        ("suspect", "suspect", "triangle-down", "warn"),
    )
    for call, word, symbol, colour in kinds:
        of_kind = [h for h in humps if calls.get(h.position, "sound") == call]
        if of_kind:
            crowded = call == "sound" and len(humps) > _MOST_NAMES
            trace = _hump_trace(of_kind, word, symbol, unit, known=report.cylinders_known)
            # Names that would lie on each other come back when the person zooms in.
            yield trace.update(mode="markers") if crowded else trace, colour


def _hump_trace(humps: list[Hump], word: str, symbol: str, unit: str, *, known: bool) -> go.Scatter:
    what = "cylinder" if known else "place"
    names = [str(h.cylinder if known else h.position) for h in humps]
    return go.Scatter(
        x=[h.at_s for h in humps],
        y=[h.current_a for h in humps],
        mode="markers+text",
        name=f"{what} called {word}",
        showlegend=word != "sound",
        text=names,
        textposition="top center",
        textfont={"size": 15, "weight": 700},
        marker={"symbol": symbol, "size": 9 if word != "sound" else 5},
        customdata=[[name, h.cycle, h.height_a] for name, h in zip(names, humps, strict=True)],
        hovertemplate=(
            f"{what} %{{customdata[0]}}, cycle %{{customdata[1]}}, "
            f"%{{customdata[2]:.2f}} {unit} {_BESIDE[unit]}<extra>{word}</extra>"
        ),
        cliponaxis=False,
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


def _marks(report: Report | None, view: View) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return shapes and their words: sync events, the judged span, timed findings."""
    if report is None:
        return [], []
    shapes = [_upright(at_s, "dash", "pen") for at_s in report.sync_events_s if view.holds(at_s)][
        :_MOST_MARKS
    ]
    words = []
    if report.judged_from_s is not None and report.judged_to_s is not None:
        shapes += [_upright(t, "solid", "ink") for t in (report.judged_from_s, report.judged_to_s)]
        middle_s = (report.judged_from_s + report.judged_to_s) / 2
        if view.holds(middle_s):
            words.append(_word(middle_s, "← judged →", 0.99))
    for finding in report.findings:
        if finding.severity != "note" and finding.from_s is not None and finding.to_s is not None:
            shapes.append(_band(finding, finding.from_s, finding.to_s))
            if view.holds(finding.from_s):
                words.append(_word(finding.from_s, finding.code.replace("-", " "), 0.93))
    return shapes, words


def _upright(at_s: float, dash: str, colour: str) -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": at_s,
        "x1": at_s,
        "y0": 0,
        "y1": 1,
        "line": {"dash": dash, "width": 1, "color": f"token:{colour}"},
    }


def _band(finding: Finding, from_s: float, to_s: float) -> dict[str, Any]:
    return {
        "type": "rect",
        "xref": "x",
        "yref": "paper",
        "x0": from_s,
        "x1": to_s,
        "y0": 0,
        "y1": 1,
        "layer": "below",
        "fillcolor": "token:warn-wash",
        "line": {
            "dash": "dot" if finding.severity == "warn" else "solid",
            "width": 1.5,
            "color": "token:warn",
        },
    }


def _word(at_s: float, text: str, height: float) -> dict[str, Any]:
    return {
        "xref": "x",
        "yref": "paper",
        "x": at_s,
        "y": height,
        "yanchor": "top",
        "text": text,
        "showarrow": False,
        "font": {"size": 13, "color": "token:ink"},
        "bgcolor": "token:card",
    }


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


def _path(at_idx: NDArray[np.float64], values: NDArray[np.float32]) -> str:
    """Return a curve as an SVG path of the sparkline's size, broken at gaps."""
    finite = np.isfinite(values)
    if not finite.any():
        return ""
    low, high = float(values[finite].min()), float(values[finite].max())
    span = high - low or 1.0
    most = float(at_idx[-1]) or 1.0
    x = at_idx / most * _SPARK_WIDTH
    y = (_SPARK_HEIGHT - 3) - (values - low) / span * (_SPARK_HEIGHT - 6)
    parts = []
    pen_up = True
    for xi, yi, there in zip(x, y, finite, strict=True):
        if there:
            parts.append(f"{'M' if pen_up else 'L'}{xi:.1f} {yi:.1f}")
        pen_up = not there
    return "".join(parts)
