"""A run's cycles on its page and in its plot: boundaries, what was left out, the fitted curve."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.words import say
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.test_figures import numbers
from tests.wording import says, says_only
from traces.core.report.cycle_uses import CycleUse, CycleUses, Excluded
from traces.core.report.parts import NO_PARTS, CycleFit
from traces.core.report.publishing import published_whole
from traces.core.report.results import Report
from traces.models import Run
from traces.selectors.cycle_figures import FITTED, fitted_traces, run_cycle_picture
from traces.selectors.figure_marks import View, hump_traces, marks
from traces.selectors.figures import run_figure

ClientFor = Callable[[Member], Client]


@pytest.fixture
def report(run: Run) -> Report:
    assert run.report
    return run.report


def _with(report: Report, **parts: Any) -> Report:
    return replace(report, parts=replace(report.parts, **parts))


def _fit(report: Report) -> CycleFit:
    assert report.parts.cycle_fit
    return report.parts.cycle_fit


def _fitted(report: Report, run: Run, view: View, pixels: int = 600) -> dict[str, Any]:
    ((trace, colour),) = fitted_traces(report, run.setup.analysis, view, pixels)
    assert colour == "pen"
    return trace


def test_every_cycle_of_the_crank_begins_with_a_line_and_has_its_number(report: Report) -> None:
    shapes, words = marks(report, View())
    lines = [s["x0"] for s in shapes if s["line"]["dash"] == "dot" and s["type"] == "line"]
    cycles = report.engine_cycles
    assert lines == [*(c.from_s for c in cycles), cycles[-1].to_s]
    numbers_told = [w["text"] for w in words if w["text"].isdigit()]
    assert numbers_told == [str(n + 1) for n in range(len(cycles))]


def test_only_what_is_in_view_is_marked(report: Report) -> None:
    first = next(c for c in report.engine_cycles if c.used)
    inside = View(first.from_s + 0.05, first.to_s - 0.05)
    shapes, words = marks(report, inside)
    assert [w["text"] for w in words if w["text"].isdigit()] == ["1"]
    assert len([s for s in shapes if s["line"]["dash"] == "dot"]) == 2
    assert not [s for s in shapes if s["type"] == "rect"]


def test_what_is_left_out_is_shaded_with_a_word(report: Report) -> None:
    shapes, words = marks(report, View())
    excluded = report.excluded
    assert excluded
    shaded = [(s["x0"], s["x1"]) for s in shapes if s.get("fillcolor") == "token:rule"]
    assert shaded == [(e.from_s, e.to_s) for e in excluded]
    told = [w for w in words if w.get("hovertext") in {str(e.words) for e in excluded}]
    assert {w["text"] for w in told} >= {"before the crank", "run-up"}


def test_marks_stay_few_however_long_the_crank(report: Report) -> None:
    off = say("its current is off")
    many = tuple(
        CycleUse(0.5 * i, 0.5 * i + 0.5, "level" if i % 2 else None, off) for i in range(3000)
    )
    spans = tuple(Excluded(c.from_s, c.to_s, "level", off) for c in many if not c.used)
    long = _with(report, cycle_uses=CycleUses(many, spans))
    shapes, words = marks(long, View())
    assert len(shapes) <= 3 * 401
    assert len([w for w in words if w["text"].isdigit()]) <= 30
    assert len(marks(long, View(100.0, 102.0))[0]) < 20


def test_older_results_are_drawn_as_before(report: Report, run: Run) -> None:
    old = replace(report, parts=NO_PARTS)
    shapes, _ = marks(old, View())
    assert {s["type"] for s in shapes} == {"line"}
    assert fitted_traces(old, run.setup.analysis, View(), 600) == []


def test_the_fitted_curve_lies_over_the_measured_one(report: Report, run: Run) -> None:
    figure = run_figure(run, View())
    measured = figure["data"][0]
    fitted = next(t for t in figure["data"] if t["name"] == FITTED)
    assert fitted["meta"] == {"toggle": FITTED}
    assert fitted["line"]["dash"] == "dash"
    pairs = zip(fitted["x"], fitted["y"], strict=True)
    at_s, amps = (np.array(v) for v in zip(*[p for p in pairs if p[1] is not None], strict=True))
    there = np.interp(at_s, numbers(measured["x"]), numbers(measured["y"]))
    assert float(np.sqrt(np.mean((there - amps) ** 2))) < 0.25 * float(np.std(there))
    assert float(np.corrcoef(there, amps)[0, 1]) > 0.95
    assert at_s.min() >= report.engine_cycles[0].from_s - 1e-4


def test_hump_marks_lie_on_a_curve_whose_zero_is_off(report: Report) -> None:
    off = _with(report, cycle_fit=replace(_fit(report), rest=-45.0))
    traces = [trace for trace, _ in hump_traces(off, View(), "A")]
    marked = {x: y for t in traces for x, y in zip(t["x"], t["y"], strict=True)}
    assert marked == {h.at_s: h.current_a - 45.0 for h in report.humps}


@pytest.mark.parametrize("pixels", [100, 600])
def test_it_has_no_more_points_than_the_screen(report: Report, run: Run, pixels: int) -> None:
    assert len(_fitted(report, run, View(), pixels)["x"]) <= 2 * pixels


def test_far_away_it_keeps_its_highs_and_lows(report: Report, run: Run) -> None:
    fit = _fit(report)
    assert fit.level is not None
    begin_s = report.engine_cycles[0].from_s
    many = tuple(CycleUse(begin_s + 0.5 * i, begin_s + 0.5 * (i + 1)) for i in range(400))
    long = _with(report, cycle_uses=CycleUses(many))
    trace = _fitted(long, run, View(), 100)
    assert len(trace["x"]) == 200
    assert trace["x"] == sorted(trace["x"])
    expected = [fit.rest + fit.level * f(fit.model) for f in (min, max)]
    lows, highs = trace["y"][0::2], trace["y"][1::2]
    found = [min(min(p) for p in zip(lows, highs, strict=True)), max(trace["y"])]
    assert found == pytest.approx(expected, rel=0.01)
    # every pixel holds four cycles, so each shows the whole swing
    swings = [abs(a - b) for a, b in zip(lows, highs, strict=True)]
    assert min(swings) > 0.9 * (expected[1] - expected[0])


def test_cycles_left_out_are_gaps_in_it(report: Report, run: Run) -> None:
    gone = [c for c in report.engine_cycles if c.used][2]
    cycles = tuple(replace(c, reason="hand") if c is gone else c for c in report.engine_cycles)
    changed = _with(report, cycle_uses=CycleUses(cycles))
    trace = _fitted(changed, run, View())
    inside = [
        y
        for x, y in zip(trace["x"], trace["y"], strict=True)
        if gone.from_s + 0.01 < x < gone.to_s - 0.01
    ]
    assert inside
    assert set(inside) == {None}


def test_the_picture_is_in_amps_and_the_page_shows_it(
    run: Run, cast: Cast, client_for: ClientFor
) -> None:
    picture = run_cycle_picture(run)
    assert picture is not None
    assert says_only(picture.axis, "picture.clamp-current-amps")
    assert [h.name for h in picture.humps] == [
        str(e.cylinder) for e in (run.report.estimates if run.report else ())
    ]
    page = client_for(cast.mechanic).get(reverse("traces:capture", args=[run.capture_id]))
    text = page.content.decode()
    assert 'id="cycle-fit"' in text
    assert picture.apart in text
    assert 'id="strip-1"' in text
    assert "cylinder 1, cycle 1:" in text
    assert "hollow diamond" in text.lower()


def test_the_page_of_an_older_result_still_shows(
    run: Run, cast: Cast, client_for: ClientFor
) -> None:
    assert run.report
    result = published_whole(run.report)
    fit = result["extra"]["cycle_fit"]
    result["extra"] = {"cycle_fit": {k: fit[k] for k in ("measured", "model")}}
    Run.objects.filter(pk=run.pk).update(result=result)
    page = client_for(cast.mechanic).get(reverse("traces:capture", args=[run.capture_id]))
    text = page.content.decode()
    assert page.status_code == 200
    assert says(text, "cycle_fit.degrees-crank-taken-evenly")
    plot = client_for(cast.mechanic).get(reverse("traces:plot", args=[run.capture_id, run.pk]))
    assert plot.status_code == 200


def test_humps_of_a_high_cylinder_are_called_high(report: Report) -> None:
    third = report.estimates[2]
    high = replace(third, relative=1.3, low=1.2, high=1.4, call="sound")
    told = replace(report, estimates=(*report.estimates[:2], high, *report.estimates[3:]))
    traces = {t["name"]: t for t, _ in hump_traces(told, View(), "A")}
    assert set(traces["cylinder called high"]["text"]) == {str(third.cylinder)}
    assert str(third.cylinder) not in traces["cylinder called good"]["text"]
