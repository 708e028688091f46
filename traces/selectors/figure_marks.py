"""What is marked in a run's plot: humps by cylinder, sync events, spans with their reason."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from traces.core.findings import Finding, place_letter
from traces.core.report import SHORT, CycleUse, Excluded, Hump, Report, call_words, told_calls
from traces.selectors.notes import NotePlace

_MOST_MARKS = 400
_NAME_PIXELS = 24  # room that a cylinder's number needs beside the next
_MOST_NUMBERS = 30
_NARROW = 0.12  # of the view: a word in a narrower span stands upright
_BESIDE = {
    "A": gettext_lazy("above its valleys"),
    "V": gettext_lazy("below its crests"),
    "rpm": gettext_lazy("below its crests"),
}


@dataclass(frozen=True, slots=True)
class View:
    """The stretch of a plot in the file's own time, and how many pixels wide it is shown.

    None means to the end.
    """

    from_s: float | None = None
    to_s: float | None = None
    pixels: int = 1200

    def holds(self, time_s: float) -> bool:
        """Return whether a time lies in the stretch."""
        after = self.from_s is None or time_s >= self.from_s
        return after and (self.to_s is None or time_s <= self.to_s)

    def touches(self, from_s: float, to_s: float) -> bool:
        """Return whether a span lies in the stretch, wholly or in part."""
        after = self.from_s is None or to_s > self.from_s
        return after and (self.to_s is None or from_s < self.to_s)

    def clipped(self, from_s: float, to_s: float) -> tuple[float, float]:
        """Return the part of a span that lies in the stretch."""
        first = from_s if self.from_s is None else max(from_s, self.from_s)
        return first, to_s if self.to_s is None else min(to_s, self.to_s)


def hump_traces(report: Report, view: View, unit: str) -> Iterable[tuple[dict[str, Any], str]]:
    """Yield the humps' names, those of low cylinders apart and with a sign of their own."""
    told = zip(report.estimates, told_calls(report.estimates), strict=True)
    calls = {e.position: call for e, call in told}
    fit = report.parts.cycle_fit
    # humps are told above rest, the curve shows the clamp's own zero
    rest = fit.rest if fit is not None and unit == "A" else 0.0
    humps = [h for h in report.humps if view.holds(h.at_s)][:_MOST_MARKS]
    kinds: tuple[tuple[str, str, str, str], ...] = (
        ("sound", call_words("sound"), "circle", "ink"),
        ("open", call_words("open"), "circle-open", "ink"),
        ("high", call_words("high"), "triangle-up-open", "warn"),
        ("watch", call_words("watch"), "triangle-down-open", "warn"),
        ("suspect", call_words("suspect"), "triangle-down", "warn"),
    )
    for call, word, symbol, colour in kinds:
        of_kind = [h for h in humps if calls.get(h.position, "sound") == call]
        if of_kind:
            # Numbers of low cylinders stay as long as they have room among themselves.
            named = len(humps if call == "sound" else of_kind)
            crowded = named * _NAME_PIXELS > view.pixels
            trace = _hump_trace(
                of_kind,
                word,
                symbol,
                unit,
                known=report.cylinders_known,
                cycles=[_cycle_of(h, report.engine_cycles) for h in of_kind],
                rest=rest,
            )
            # Names that would lie on each other come back when the person zooms in.
            yield trace | {"mode": "markers"} if crowded else trace, colour


def _cycle_of(hump: Hump, cycles: Sequence[CycleUse]) -> int:
    """Return the number of a hump's cycle as the boundaries are numbered; older results' own."""
    for number, cycle in enumerate(cycles, start=1):
        if cycle.from_s <= hump.at_s < cycle.to_s:
            return number
    return hump.cycle


def _hump_trace(
    humps: list[Hump],
    word: str,
    symbol: str,
    unit: str,
    *,
    known: bool,
    cycles: list[int],
    rest: float,
) -> dict[str, Any]:
    name = _("cylinder called %(word)s") if known else _("place called %(word)s")
    what = _("cylinder %(number)s") if known else _("place %(number)s")
    where = _("%(what)s, cycle %(cycle)s") % {
        "what": what % {"number": "%{customdata[0]}"},
        "cycle": "%{customdata[1]}",
    }
    names = [h.name if known else place_letter(h.position) for h in humps]
    return {
        "type": "scatter",
        "x": [h.at_s for h in humps],
        "y": [h.current_a + rest for h in humps],
        "mode": "markers+text",
        "name": name % {"word": word},
        "showlegend": word != call_words("sound"),
        "text": names,
        "meta": {"names": True},
        "textposition": "top center",
        "textfont": {"size": 15, "weight": 700},
        "marker": {"symbol": symbol, "size": 9 if word != call_words("sound") else 5},
        "customdata": [
            [name, cycle, h.height_a] for name, cycle, h in zip(names, cycles, humps, strict=True)
        ],
        "hovertemplate": (
            f"{where}, %{{customdata[2]:.2f}} {unit} {_BESIDE[unit]}<extra>{word}</extra>"
        ),
        "cliponaxis": False,
    }


def note_marks(places: Sequence[NotePlace], view: View) -> list[dict[str, Any]]:
    """Return a flag with its number for every pinned note in view; its words stay outside."""
    return [
        _word(place.at_s, str(place.number), 1.0)
        | {
            "yanchor": "middle",
            "showarrow": True,
            "arrowhead": 0,
            "arrowwidth": 1.5,
            "arrowcolor": "token:pen",
            "ax": 0,
            "ay": 42,  # clear of the words at the top
            "bordercolor": "token:pen",
            "borderwidth": 1.5,
            "borderpad": 3,
            "font": {"size": 13, "color": "token:pen"},
            "name": _("note %(number)s") % {"number": place.number},
        }
        for place in places
        if view.holds(place.at_s)
    ][:_MOST_MARKS]


def marks(report: Report | None, view: View) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return shapes and their words.

    Sync events, the judged span, timed findings, where engine cycles begin, and what was left
    out with the reason.
    """
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
            words.append(_word(middle_s, _("← judged →"), 0.99))
    for finding in report.findings:
        if finding.severity != "note" and finding.from_s is not None and finding.to_s is not None:
            shapes.append(_band(finding, finding.from_s, finding.to_s))
            if view.holds(finding.from_s):
                words.append(_word(finding.from_s, finding.code.replace("-", " "), 0.93))
    for shape, word in (*_left_out(report, view), *_boundaries(report, view)):
        shapes.append(shape)
        if word is not None:
            words.append(word)
    return shapes, words


_Mark: TypeAlias = tuple[dict[str, Any], dict[str, Any] | None]


def _left_out(report: Report, view: View) -> Iterable[_Mark]:
    """Yield a pale band with the reason for every stretch that no figure is taken from."""
    seen = [s for s in report.excluded if view.touches(s.from_s, s.to_s)][:_MOST_MARKS]
    width_s = _width_s(report, view)
    for span in seen:
        from_s, to_s = view.clipped(span.from_s, span.to_s)
        narrow = to_s - from_s < _NARROW * width_s
        word = _word((from_s + to_s) / 2, str(SHORT.get(span.reason, "left out")), 0.86)
        word |= {"textangle": -90 if narrow else 0, "hovertext": str(span.words)}
        yield _pale(span.from_s, span.to_s), word


def _boundaries(report: Report, view: View) -> Iterable[_Mark]:
    """Yield a short line where each engine cycle begins, with its number in its middle."""
    numbered = enumerate(report.engine_cycles, start=1)
    seen = [(n, c) for n, c in numbered if view.touches(c.from_s, c.to_s)][:_MOST_MARKS]
    every = -(-len(seen) // _MOST_NUMBERS)
    for number, cycle in seen:
        from_s, to_s = view.clipped(cycle.from_s, cycle.to_s)
        word = None
        if (number - 1) % every == 0:
            word = _word((from_s + to_s) / 2, str(number), 0.0)
            word |= {"yanchor": "bottom", "font": {"size": 12, "color": "token:ink-soft"}}
            if cycle.words:
                word["hovertext"] = _("cycle %(number)s left out: %(words)s") % {
                    "number": number,
                    "words": cycle.words,
                }
        yield _upright(cycle.from_s, "dot", "ink-soft") | {"y1": 0.1}, word
    if seen:
        last = seen[-1][1]
        yield _upright(last.to_s, "dot", "ink-soft") | {"y1": 0.1}, None


def _width_s(report: Report, view: View) -> float:
    """Return how long a stretch the view shows; without bounds, what the report tells of."""
    told: list[CycleUse | Excluded] = [*report.excluded, *report.engine_cycles]
    begin_s = min((t.from_s for t in told), default=0.0) if view.from_s is None else view.from_s
    end_s = max((t.to_s for t in told), default=0.0) if view.to_s is None else view.to_s
    return max(end_s - begin_s, 0.0)


def _pale(from_s: float, to_s: float) -> dict[str, Any]:
    return _full_height("rect", from_s, to_s, line={"dash": "solid", "width": 0}) | {
        "layer": "below",
        "fillcolor": "token:rule",
        "opacity": 0.28,
    }


def _upright(at_s: float, dash: str, colour: str) -> dict[str, Any]:
    line = {"dash": dash, "width": 1, "color": f"token:{colour}"}
    return _full_height("line", at_s, at_s, line=line)


def _band(finding: Finding, from_s: float, to_s: float) -> dict[str, Any]:
    dash = "dot" if finding.severity == "warn" else "solid"
    line = {"dash": dash, "width": 1.5, "color": "token:warn"}
    return _full_height("rect", from_s, to_s, line=line) | {
        "layer": "below",
        "fillcolor": "token:warn-wash",
    }


def _full_height(kind: str, from_s: float, to_s: float, *, line: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": kind,
        "xref": "x",
        "yref": "paper",
        "x0": from_s,
        "x1": to_s,
        "y0": 0,
        "y1": 1,
        "line": line,
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
