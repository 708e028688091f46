"""What is marked in a run's plot: humps by cylinder, sync events, spans with their reason."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from traces.core.results import Call, Finding, Hump, Report

_MOST_MARKS = 400
_MOST_NAMES = 48
_BESIDE = {"A": "above its valleys", "V": "below its crests", "rpm": "below its crests"}


@dataclass(frozen=True, slots=True)
class View:
    """The stretch of a plot in the file's own time; None means to the end."""

    from_s: float | None = None
    to_s: float | None = None

    def holds(self, time_s: float) -> bool:
        """Return whether a time lies in the stretch."""
        after = self.from_s is None or time_s >= self.from_s
        return after and (self.to_s is None or time_s <= self.to_s)


def hump_traces(report: Report, view: View, unit: str) -> Iterable[tuple[go.Scatter, str]]:
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


def marks(report: Report | None, view: View) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
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
