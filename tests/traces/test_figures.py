"""A run's plot and evidence picture: amps the right way up, few points, gaps, marks."""

import base64
import json
from collections.abc import Callable
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import analysed, reference, reference_setup
from tests.wording import says
from traces.models import Capture, Run
from traces.selectors.figure_marks import View
from traces.selectors.figures import PIXELS, run_evidence, run_figure
from traces.selectors.sparklines import sparklines
from traces.services import run_add

ClientFor = Callable[[Member], Client]


def numbers(value: Any) -> np.ndarray:
    """Decode an array as the plot's JSON carries it."""
    if isinstance(value, dict):
        return np.frombuffer(base64.b64decode(value["bdata"]), dtype=value["dtype"])
    return np.asarray(value)


def _reference_amps() -> tuple[np.ndarray, np.ndarray]:
    rows = [r.split(",") for r in reference("ref-01.csv").read_text().splitlines()]
    data = np.array([[float(v) for v in r[:2]] for r in rows if r[0][:1].isdigit()])
    # 10 mV/A makes 1 V = 100 A (common practice); the manifest says that the clamp sat reversed.
    return data[:, 0], -100 * data[:, 1]


def test_the_current_is_in_amps_and_upright(run: Run) -> None:
    figure = run_figure(run, View())
    times_s, amps = _reference_amps()
    clamp = figure["data"][0]
    y = numbers(clamp["y"])
    assert y.max() == pytest.approx(amps.max(), rel=1e-5)
    assert y.min() == pytest.approx(amps.min(), abs=0.01)
    at = numbers(clamp["x"])[int(np.argmax(y))]
    assert at == pytest.approx(times_s[int(np.argmax(amps))], abs=1e-6)


def test_no_more_points_than_the_screen_shows(run: Run) -> None:
    for trace in run_figure(run, View())["data"]:
        assert numbers(trace["x"]).size <= 2 * PIXELS


def test_zooming_in_brings_every_sample(run: Run) -> None:
    figure = run_figure(run, View(1.0, 1.25))
    x = numbers(figure["data"][0]["x"])
    # 2000 Hz, and one more sample on either side.
    assert np.diff(x) == pytest.approx(0.0005, abs=1e-9)
    assert x[0] <= 1.0
    assert x[-1] >= 1.25
    assert x.size <= 505
    assert figure["layout"]["xaxis"]["range"] == [1.0, 1.25]


def test_each_hump_is_named_and_low_ones_have_a_sign_of_their_own(run: Run) -> None:
    traces = {t["name"]: t for t in run_figure(run, View())["data"]}
    assert set(traces["cylinder called suspect"]["text"]) == {"1"}
    assert set(traces["cylinder called good"]["text"]) == {"2", "3", "4"}
    assert traces["cylinder called suspect"]["marker"]["symbol"] == "triangle-down"
    assert traces["cylinder called suspect"]["textfont"]["color"] == "token:warn"
    assert run.report
    assert len(traces["cylinder called suspect"]["x"]) + len(
        traces["cylinder called good"]["x"]
    ) == len(run.report.humps)


def test_names_that_would_lie_on_each_other_wait_for_a_closer_look(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    run = analysed(add_read, cast.diagnostician, "ref-18.csv", None)
    assert run.report
    assert len(run.report.humps) > 50
    whole = {t["name"]: t for t in run_figure(run, View())["data"]}
    assert whole["cylinder called good"]["mode"] == "markers"
    assert "text" in whole["cylinder called suspect"]["mode"]
    middle = run.report.humps[len(run.report.humps) // 2].at_s
    close = {t["name"]: t for t in run_figure(run, View(middle - 0.3, middle + 0.3))["data"]}
    assert "text" in close["cylinder called good"]["mode"]


def test_a_phone_shows_fewer_names_than_a_wide_screen(run: Run) -> None:
    wide, narrow = (
        {t["name"]: t for t in run_figure(run, View(pixels=pixels))["data"]}
        for pixels in (1200, 300)
    )
    assert "text" in wide["cylinder called good"]["mode"]
    assert narrow["cylinder called good"]["mode"] == "markers"
    assert "text" in narrow["cylinder called suspect"]["mode"]


def test_sync_events_and_the_judged_span_are_marked(run: Run) -> None:
    layout = run_figure(run, View())["layout"]
    assert run.report
    lines = [s for s in layout["shapes"] if s["type"] == "line"]
    dashed = [s["x0"] for s in lines if s["line"]["dash"] == "dash"]
    assert dashed == list(run.report.sync_events_s)
    solid = [s["x0"] for s in lines if s["line"]["dash"] == "solid"]
    assert solid == [run.report.judged_from_s, run.report.judged_to_s]
    assert any("judged" in a["text"] for a in layout["annotations"])
    assert layout["yaxis2"]["nticks"] == 3


def test_a_timed_finding_is_marked_with_its_words(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    run = analysed(add_read, cast.diagnostician, "ref-20.csv", None)
    assert run.report
    timed = [f for f in run.report.findings if f.from_s is not None and f.severity != "note"]
    layout = run_figure(run, View())["layout"]
    bands = [s for s in layout["shapes"] if s.get("fillcolor") == "token:warn-wash"]
    assert len(bands) == len(timed)
    for finding in timed:
        assert any(a["text"] == finding.code.replace("-", " ") for a in layout["annotations"])


def test_a_gap_in_the_file_is_a_gap_in_the_curve(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    lines = reference("ref-01.csv").read_text().splitlines()
    first = next(i for i, line in enumerate(lines) if line[:1].isdigit())
    for i in range(first + 2000, first + 2600):
        time, _, *rest = lines[i].split(",")
        lines[i] = ",".join([time, "", *rest])
    capture = add_read("\n".join(lines).encode() + b"\n")
    run = run_add(
        member=cast.diagnostician, capture=capture, analysis=reference_setup("ref-01.csv")
    )
    clamp = run_figure(run, View())["data"][0]
    x, y = numbers(clamp["x"]), numbers(clamp["y"])
    start = x[0] + 1.0
    inside = (x > start + 0.05) & (x < start + 0.25)
    assert inside.any()
    assert np.isnan(y[inside]).all()
    assert np.isfinite(y[x < start - 0.05]).all()


def test_a_recording_in_shares_of_full_scale_is_in_amps_too(
    add_read: Callable[..., Capture], cast: Cast
) -> None:
    run = analysed(add_read, cast.diagnostician, "ref-04.wav", None)
    figure = run_figure(run, View())
    assert figure["layout"]["yaxis"]["title"]["text"] == "amps"
    peak = numbers(figure["data"][0]["y"]).max()
    # A starter's inrush: hundreds of amps, not shares of full scale.
    assert 150 < peak < 2500


def test_sparklines_fit_their_box_and_tell_the_range(add_read: Callable[..., Capture]) -> None:
    capture = add_read(
        b"Time,clamp,coil,battery\n" + b"".join(b"%d,%d,5,\n" % (i, i % 9) for i in range(2000))
    )
    lines = sparklines(capture.reading)
    assert [s.name for s in lines][:2] == ["clamp", "coil"]
    assert (lines[0].minimum, lines[0].maximum) == (0, 8)
    for spark in lines[:2]:
        points = [p.split() for p in spark.path.replace("M", "L").split("L") if p]
        assert 2 <= len(points) <= spark.width
        assert all(
            0 <= float(x) <= spark.width and 0 <= float(y) <= spark.height for x, y in points
        )


class TestTheAddresses:
    def test_the_plot_is_private_json_with_colours_by_token(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        answer = client_for(cast.mechanic).get(
            reverse("traces:plot", args=[run.capture_id, run.pk]), {"from": "1", "to": "2"}
        )
        assert answer.headers["Content-Type"] == "application/json"
        assert "private" in answer.headers["Cache-Control"]
        found = json.loads(answer.content)
        assert set(found) == {"data", "layout"}
        assert {t["line"]["color"] for t in found["data"]} <= {
            "token:ink",
            "token:pen",
            "token:warn",
        }
        assert "template" not in found["layout"]

    @pytest.mark.parametrize(
        "query",
        [
            {"from": "x"},
            {"from": "2", "to": "1"},
            {"to": "inf"},
            {"from": "nan"},
            {"from": "1e999"},
        ],
    )
    def test_a_stretch_that_is_none_gets_a_sentence(
        self, run: Run, cast: Cast, client_for: ClientFor, query: dict[str, str]
    ) -> None:
        answer = client_for(cast.mechanic).get(
            reverse("traces:plot", args=[run.capture_id, run.pk]), query
        )
        assert answer.status_code == 400
        assert json.loads(answer.content)["error"].endswith(".")

    def test_a_stretch_outside_the_recording_is_empty_but_no_error(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        answer = client_for(cast.mechanic).get(
            reverse("traces:plot", args=[run.capture_id, run.pk]), {"from": "500", "to": "501"}
        )
        assert answer.status_code == 200

    def test_samples_that_are_gone_get_a_sentence_and_the_page_still_stands(
        self, run: Run, cast: Cast, client_for: ClientFor, media
    ) -> None:
        for path in (media / "derived").rglob("*.npy"):
            path.unlink()
        client = client_for(cast.mechanic)
        plot = client.get(reverse("traces:plot", args=[run.capture_id, run.pk]))
        assert plot.status_code == 404
        assert says(json.loads(plot.content)["error"], "samples.samples-capture-not-server")
        evidence = reverse("traces:evidence", args=[run.capture_id, run.pk])
        assert client.get(evidence).status_code == 404
        page = client.get(reverse("traces:capture", args=[run.capture_id]))
        assert page.status_code == 200
        assert says(page.content.decode(), "verdict_headline.cylinder-weak", which=1)

    def test_the_evidence_is_a_drawing_that_stands_alone(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        answer = client_for(cast.mechanic).get(
            reverse("traces:evidence", args=[run.capture_id, run.pk])
        )
        assert answer.headers["Content-Type"] == "image/svg+xml"
        root = ET.fromstring(answer.content)  # noqa: S314 - our own drawing
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        words = [t.text for t in root.iter("{http://www.w3.org/2000/svg}text")]
        assert words.count("suspect") == 2
        assert words.count("1") == words.count("3") == 2
        assert b"style=" not in answer.content

    def test_without_humps_there_is_no_picture(
        self, add_read: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        run = analysed(add_read, cast.diagnostician, "ref-19.csv", None)
        assert run_evidence(run) is None
        answer = client_for(cast.mechanic).get(
            reverse("traces:evidence", args=[run.capture_id, run.pk])
        )
        assert answer.status_code == 404


def test_a_persons_decision_is_drawn_instead(run: Run) -> None:
    picture = run_evidence(run, marked={4})
    assert picture
    assert {h.name for h in picture.humps if h.word} == {"4"}
