"""What a view of a curve holds and costs: points, bytes, queries; small files and long ones."""

import gzip
import itertools
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from engines.core.firing import FiringOrder
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import analysed, csv_bytes
from tests.traces.test_figures import numbers
from tests.wording import says
from traces.core.readers.storing import BLOCKS_SUFFIX, MEANS_SUFFIX
from traces.core.setup.analysis_setup import AnalysisSetup
from traces.core.waveform.summaries import BLOCK
from traces.models import Capture, Reading, Run
from traces.selectors.cursor_values import Cursors, reading_values
from traces.selectors.figure_marks import View
from traces.selectors.figures import MOST_CHANNELS, reading_figure, run_figure
from traces.services import run_add

ClientFor = Callable[[Member], Client]

SAMPLES = 100_000_000
RATE_HZ = 1_000_000.0
START_S = -0.5
# Single samples that stand out of an even line, in both channels.
SPIKES = {0: 7.25, 12_345_678: 1234.5678, 50_000_000: -3.5, SAMPLES - 1: 2.0}


@pytest.fixture
def long_run(add_read: Callable[..., Capture], cast: Cast, media: Path) -> Run:
    """A run of a hundred million samples of two channels, in a file that is mostly holes."""
    capture = add_read(csv_bytes())
    reading = capture.reading
    path = media / reading.samples_file
    values = np.lib.format.open_memmap(path, mode="w+", dtype=np.float32, shape=(2, SAMPLES))
    size = (2, 2, -(-SAMPLES // BLOCK))
    beside = path.with_suffix(BLOCKS_SUFFIX)
    blocks = np.lib.format.open_memmap(beside, mode="w+", dtype=np.float32, shape=size)
    for at, value in SPIKES.items():
        values[:, at] = value
        blocks[:, 0, at // BLOCK] = min(value, 0.0)
        blocks[:, 1, at // BLOCK] = max(value, 0.0)
    values.flush()
    blocks.flush()
    path.with_suffix(MEANS_SUFFIX).unlink()
    understood = reading.understood | {
        "samples": SAMPLES,
        "rate_hz": RATE_HZ,
        "start_s": START_S,
    }
    Reading.objects.filter(pk=reading.pk).update(understood=understood)
    setup = AnalysisSetup(
        firing_order=FiringOrder.parse("1-3-4-2"),
        current_channel="clamp",
        mv_per_a=10.0,
        invert=False,
    )
    run = run_add(member=cast.diagnostician, capture=capture, analysis=setup)
    return Run.objects.select_related("reading", "setup", "capture").get(pk=run.pk)


def times(trace: dict[str, Any]) -> np.ndarray:
    return np.asarray(trace["x"])


class TestAHundredMillionSamples:
    @pytest.mark.parametrize("pixels", [100, 390, 1200, 4000])
    def test_no_more_than_two_points_a_pixel_and_no_spike_lost(
        self, long_run: Run, pixels: int
    ) -> None:
        spans_s = [100.0, 50.0, 5.0, 4.0 * BLOCK * pixels / RATE_HZ, 0.5, 0.01, 2.4e-3, 2e-5, 4e-6]
        for span_s, (at, value) in itertools.product(spans_s, SPIKES.items()):
            middle_s = START_S + at / RATE_HZ
            view = View(middle_s - span_s / 2, middle_s + span_s / 2, pixels)
            for trace in reading_figure(long_run.reading, view)["data"]:
                found = numbers(trace["y"])
                assert found.dtype == np.float32
                assert times(trace).size == found.size <= 2 * pixels
                assert np.float32(value) in found, (span_s, at)

    def test_a_closer_look_gives_the_very_samples(self, long_run: Run) -> None:
        at = 12_345_678
        middle_s = START_S + at / RATE_HZ
        figure = run_figure(long_run, View(middle_s - 1e-5, middle_s + 1e-5))
        trace = figure["data"][0]
        assert np.diff(times(trace)) == pytest.approx(1 / RATE_HZ, rel=1e-3)
        assert 20 <= times(trace).size <= 24
        assert "markers" in trace["mode"]
        # 10 mV/A: a volt is a hundred amps
        amps = numbers(trace["y"])
        assert amps.max() == np.float32(1234.5678) * np.float32(100.0)
        top = times(trace)[int(np.argmax(amps))]
        assert top == pytest.approx(middle_s, abs=1e-8)
        assert np.count_nonzero(amps) == 1
        # seen from further off the samples carry no marks
        assert run_figure(long_run, View(0.0, 1.0))["data"][0]["mode"] == "lines"

    def test_the_whole_is_small_and_says_where_it_ends(self, long_run: Run) -> None:
        figure = run_figure(long_run, View())
        assert figure["layout"]["meta"] == {
            "start_s": START_S,
            "end_s": pytest.approx(START_S + (SAMPLES - 1) / RATE_HZ),
            "rate_hz": RATE_HZ,
            "unit": "s",
        }
        x = times(figure["data"][0])
        # told apart to a small part of a pixel, and not further
        assert x == pytest.approx(np.round(x, 4), abs=0)
        assert (np.diff(x) >= 0).all()

    def test_cursors_far_apart_get_exact_ends(self, long_run: Run) -> None:
        a_s, b_s = START_S + 12_345_678 / RATE_HZ, START_S + 50_000_000 / RATE_HZ
        found = reading_values(long_run.reading, Cursors(b_s + 4e-7, a_s - 4e-7))
        assert found["a_s"] == pytest.approx(b_s, abs=1e-9)
        row = found["channels"][1]
        spike = float(np.float32(1234.5678))
        assert (row["a"], row["b"], row["difference"]) == (-3.5, spike, spike + 3.5)
        assert (row["minimum"], row["maximum"]) == (-3.5, spike)
        assert row["mean_is_sampled"]


@pytest.fixture
def run(add_read: Callable[..., Capture], cast: Cast) -> Run:
    return analysed(add_read, cast.diagnostician, "ref-01.csv", None)


class TestWhatIsSent:
    @pytest.fixture
    def addresses(self, run: Run) -> dict[str, str]:
        pk = run.capture_id
        return {
            "plot": reverse("traces:plot", args=[pk, run.pk]),
            "curve": reverse("traces:curve", args=[pk]),
            "run-values": reverse("traces:run-values", args=[pk, run.pk]) + "?a=1&b=1.5",
            "values": reverse("traces:values", args=[pk]) + "?a=1&b=1.5",
        }

    @pytest.mark.parametrize("name", ["plot", "curve", "run-values", "values"])
    def test_queries_do_not_depend_on_the_view(
        self,
        addresses: dict[str, str],
        client_for: ClientFor,
        cast: Cast,
        django_assert_num_queries: Any,
        name: str,
    ) -> None:
        client = client_for(cast.mechanic)
        # session, user, member; one for the run or capture with all that it needs; pinned notes
        most = 5 if name == "plot" else 4
        for query in ({}, {"from": "1", "to": "2", "pixels": "4000"}):
            with django_assert_num_queries(most):
                assert client.get(addresses[name], query).status_code == 200

    def test_a_runs_result_is_loaded_once(
        self, addresses: dict[str, str], client_for: ClientFor, cast: Cast
    ) -> None:
        client = client_for(cast.mechanic)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get(addresses["plot"])
        assert sum('"result"' in q["sql"] for q in asked) == 1

    @pytest.mark.parametrize(
        ("name", "query"),
        [
            ("plot", {}),
            ("plot", {"from": "1", "to": "2"}),
            ("curve", {}),
            ("curve", {"from": "1", "to": "2"}),
        ],
        ids=["run-whole", "run-part", "capture-whole", "capture-part"],
    )
    def test_a_view_at_1200_pixels_is_a_few_dozen_kilobytes(
        self,
        addresses: dict[str, str],
        client_for: ClientFor,
        cast: Cast,
        name: str,
        query: dict[str, str],
    ) -> None:
        client = client_for(cast.mechanic)
        asked = query | {"pixels": "1200"}
        plain = client.get(addresses[name], asked)
        packed = client.get(addresses[name], asked, headers={"accept-encoding": "gzip"})
        assert packed.headers["Content-Encoding"] == "gzip"
        assert gzip.decompress(packed.content) == plain.content
        channels = sum("token:ink" in t["line"]["color"] for t in json.loads(plain.content)["data"])
        assert channels >= 1
        # 2400 points: 13 kB of values, 20 kB of times; and 30 kB for humps and marks
        assert len(plain.content) < 30_000 + 35_000 * 3
        assert len(packed.content) < 8_000 + 20_000 * 3

    def test_only_what_holds_no_secret_is_packed(
        self, addresses: dict[str, str], run: Run, client_for: ClientFor, cast: Cast
    ) -> None:
        client = client_for(cast.diagnostician)
        page = client.get(
            reverse("traces:setup", args=[run.capture_id]), headers={"accept-encoding": "gzip"}
        )
        assert b"csrfmiddlewaretoken" in page.content
        assert "Content-Encoding" not in page.headers
        for address in addresses.values():
            assert b"csrf" not in client.get(address).content

    @pytest.mark.parametrize("name", ["plot", "curve"])
    def test_what_the_browser_has_is_not_sent_again(
        self, addresses: dict[str, str], client_for: ClientFor, cast: Cast, name: str
    ) -> None:
        client = client_for(cast.mechanic)
        first = client.get(addresses[name], headers={"accept-encoding": "gzip"})
        rules = first.headers["Cache-Control"]
        assert "private" in rules
        assert "no-store" not in rules
        tag = first.headers["ETag"]
        again = client.get(addresses[name], headers={"if-none-match": tag})
        assert (again.status_code, again.content) == (304, b"")
        other = client.get(
            addresses[name], {"from": "1", "to": "2"}, headers={"if-none-match": tag}
        )
        assert other.status_code == 200

    @pytest.mark.parametrize(
        ("asked", "most"),
        [("1", 200), ("390", 780), ("999999", 8000), ("many", 2400), ("-5", 2400), ("", 2400)],
    )
    def test_the_width_is_kept_within_reason(
        self, long_run: Run, client_for: ClientFor, cast: Cast, asked: str, most: int
    ) -> None:
        address = reverse("traces:plot", args=[long_run.capture_id, long_run.pk])
        found = json.loads(client_for(cast.mechanic).get(address, {"pixels": asked}).content)
        assert most * 0.75 <= numbers(found["data"][0]["y"]).size <= most

    def test_the_json_is_what_plotly_takes(
        self, addresses: dict[str, str], client_for: ClientFor, cast: Cast
    ) -> None:
        client = client_for(cast.mechanic)
        for name in ("plot", "curve"):
            for query in ({}, {"from": "1", "to": "1.01"}):
                content = client.get(addresses[name], query).content.decode()
                # the page's script puts colours in; raises for what is not in the schema
                found = json.loads(re.sub('"token:[a-z-]+"', '"black"', content))
                figure = go.Figure(found)
                assert len(figure.data) == len(found["data"])


class TestTheCaptureAsRecorded:
    def test_channels_lie_above_each_other_on_one_axis(
        self, add_read: Callable[..., Capture]
    ) -> None:
        figure = reading_figure(add_read(csv_bytes()).reading, View())
        assert [t["name"] for t in figure["data"]] == ["clamp", "coil"]
        assert [t["yaxis"] for t in figure["data"]] == ["y", "y2"]
        layout = figure["layout"]
        (low, high), (other_low, other_high) = (
            layout[name]["domain"] for name in ("yaxis", "yaxis2")
        )
        assert 0 <= other_low < other_high < low < high <= 1
        assert layout["xaxis"]["anchor"] == "y2"
        assert [w["text"] for w in layout["annotations"]] == ["clamp (V)", "coil (V)"]

    def test_values_are_the_files_own_to_float32(self, add_read: Callable[..., Capture]) -> None:
        rows = [r.split(",") for r in csv_bytes().decode().splitlines()[2:]]
        expected = np.array([float(r[1]) for r in rows], dtype=np.float32)
        trace = reading_figure(add_read(csv_bytes()).reading, View())["data"][0]
        assert (numbers(trace["y"]) == expected).all()
        assert times(trace) == pytest.approx([float(r[0]) for r in rows], abs=1e-9)

    def test_no_more_than_a_few_channels_and_those_that_are_chosen(
        self, add_read: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        names = "ABCDEFGHI"
        rows = [",".join([f"{i / 1000}", *(f"{i * k}" for k in range(9))]) for i in range(300)]
        content = "\n".join([f"Time,{','.join(names)}", *rows]).encode()
        capture = add_read(content)
        client = client_for(cast.mechanic)
        address = reverse("traces:curve", args=[capture.pk])

        def shown(query: str) -> str:
            found = json.loads(client.get(address + query).content)
            return "".join(t["name"] for t in found["data"])

        assert shown("") == names[:MOST_CHANNELS]
        assert shown("?channel=9&channel=2") == "BI"
        assert shown("?channel=2&channel=77&channel=x&channel=-1&channel=" + "9" * 5000) == "B"
        assert shown("?channel=0") == names[:MOST_CHANNELS]
        assert len(shown("?" + "&".join(f"channel={i}" for i in range(1, 10)))) == MOST_CHANNELS
        page = client.get(reverse("traces:capture", args=[capture.pk]) + "?channel=3").content
        assert f"{address}?channel=3".encode() in page
        assert page.count(b'name="channel"') == 9
        assert page.count(b" checked") == 1

    def test_without_a_rate_it_counts_samples(self, add_read: Callable[..., Capture]) -> None:
        capture = add_read(
            "\n".join(["clamp,coil", *(f"{i % 7},{i}" for i in range(500))]).encode()
        )
        assert capture.reading.understood["rate_hz"] is None
        figure = reading_figure(capture.reading, View(10, 20))
        assert times(figure["data"][1]).tolist() == list(range(9, 22))
        assert numbers(figure["data"][1]["y"]).tolist() == list(range(9, 22))
        assert figure["layout"]["xaxis"]["title"]["text"] == "samples"
        found = reading_values(capture.reading, Cursors(10.2, 499))
        assert (found["unit"], found["a_s"], found["channels"][1]["a"]) == ("samples", 10.0, 10.0)


class TestWhoMaySee:
    @pytest.fixture
    def addresses(self, run: Run) -> list[str]:
        pk = run.capture_id
        return [
            reverse("traces:curve", args=[pk]),
            reverse("traces:values", args=[pk]),
            reverse("traces:run-values", args=[pk, run.pk]),
            reverse("traces:plot", args=[pk, run.pk]),
        ]

    def test_everybody_of_the_shop(
        self, addresses: list[str], cast: Cast, client_for: ClientFor
    ) -> None:
        for member in cast.insiders.values():
            client = client_for(member)
            assert {client.get(a).status_code for a in addresses} == {200}

    def test_nobody_of_another_shop_nor_a_stranger(
        self, addresses: list[str], cast: Cast, client_for: ClientFor
    ) -> None:
        outsider = client_for(cast.outsider)
        assert {outsider.get(a).status_code for a in addresses} == {404}
        assert {Client().get(a).status_code for a in addresses} == {302}

    def test_another_captures_run_is_not_found(
        self, run: Run, add_read: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        other = add_read(csv_bytes(seed=5))
        client = client_for(cast.mechanic)
        for name in ("traces:run-values", "traces:plot"):
            assert client.get(reverse(name, args=[other.pk, run.pk])).status_code == 404

    def test_what_was_not_read_yet_has_no_curve(
        self, add: Callable[..., Capture], cast: Cast, client_for: ClientFor
    ) -> None:
        capture = add()
        client = client_for(cast.mechanic)
        for name in ("traces:curve", "traces:values"):
            assert client.get(reverse(name, args=[capture.pk])).status_code == 404
        page = client.get(reverse("traces:capture", args=[capture.pk])).content
        assert b"recorded-plot" not in page

    def test_samples_that_are_gone_get_a_sentence(
        self, addresses: list[str], cast: Cast, client_for: ClientFor, media: Path
    ) -> None:
        for path in (media / "derived").rglob("*.npy"):
            path.unlink()
        client = client_for(cast.mechanic)
        for address in addresses:
            answer = client.get(address)
            assert answer.status_code == 404
            assert says(json.loads(answer.content)["error"], "samples.samples-capture-not-server")
