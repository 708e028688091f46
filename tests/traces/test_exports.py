"""What a run gives to take along: the same samples, the same result, and nobody's name."""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from engines.models import Engine
from shopdiag.people.models import Member
from tests.conftest import Cast
from tests.traces.conftest import reference, reference_line, reference_setup
from traces.core.analysis.any_signal import judge
from traces.core.readers import read
from traces.core.readers.case_files import read_case
from traces.models import Capture, Run
from traces.runs.analysing import run_analyse
from traces.services import run_add

ClientFor = Callable[[Member], Client]


def _address(run: Run, what: str) -> str:
    return reverse(f"traces:{what}", args=[run.capture_id, run.pk])


def _body(answer: Any) -> bytes:
    # taken to its end, the answer lets go of its file
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def _read_back(body: bytes, folder: Path) -> Any:
    path = folder / "taken.csv"
    path.write_bytes(body)
    return read(path)


class TestData:
    def test_our_own_reader_reads_the_same_samples_back(
        self, run: Run, cast: Cast, client_for: ClientFor, tmp_path: Path
    ) -> None:
        answer = client_for(cast.writer).get(_address(run, "data"))
        assert answer.headers["Content-Type"].startswith("text/csv")
        assert 'filename="ref-01-' in answer.headers["Content-Disposition"]
        taken = _read_back(_body(answer), tmp_path)
        first = read(reference("ref-01.csv"))
        assert [c.name for c in taken.channels] == [c.name for c in first.channels]
        assert [c.unit for c in taken.channels] == [c.unit for c in first.channels]
        assert taken.rate_hz == pytest.approx(first.rate_hz)
        assert taken.t0_s == pytest.approx(first.t0_s)
        for one, other in zip(taken.channels, first.channels, strict=True):
            np.testing.assert_array_equal(one.values, other.values)

    def test_a_stretch_of_one_channel(self, run: Run, cast: Cast, client_for: ClientFor) -> None:
        asked = {"from": "1.0", "to": "1.25", "channel": "2"}
        body = _body(client_for(cast.mechanic).get(_address(run, "data"), asked))
        rows = list(csv.reader(io.StringIO(body.decode(), newline="")))
        whole = read(reference("ref-01.csv"))
        second = whole.channels[1]
        assert rows[0] == ["Time [s]", f"{second.name} [{second.unit}]"]
        times_s = [float(row[0]) for row in rows[1:]]
        assert (times_s[0], times_s[-1]) == pytest.approx((1.0, 1.25), abs=1e-6)
        assert whole.rate_hz
        first = round((1.0 - whole.t0_s) * whole.rate_hz)
        np.testing.assert_array_equal(
            np.array([row[1] for row in rows[1:]], dtype=np.float32),
            second.values[first : first + len(times_s)],
        )

    @pytest.mark.parametrize(
        "asked",
        [
            {"from": "x"},
            {"from": "2", "to": "1"},
            {"to": "inf"},
            {"from": "500"},
            {"channel": "clamp"},
        ],
        ids=str,
    )
    def test_what_cannot_be_is_said_in_a_sentence(
        self, run: Run, cast: Cast, client_for: ClientFor, asked: dict[str, str]
    ) -> None:
        answer = client_for(cast.writer).get(_address(run, "data"), asked)
        assert answer.status_code == 400
        assert answer.content.decode().endswith(".")

    def test_a_channel_that_is_none(self, run: Run, cast: Cast, client_for: ClientFor) -> None:
        answer = client_for(cast.writer).get(_address(run, "data"), {"channel": "9"})
        assert answer.status_code == 404


class TestResult:
    def test_it_is_what_the_command_line_prints(
        self, run: Run, cast: Cast, client_for: ClientFor, capsys: pytest.CaptureFixture[str]
    ) -> None:
        line = reference_line("ref-01.csv")
        options = {
            "firing_order": line["firing_order"],
            "current_channel": line["current"]["channel"],
            "mv_per_a": line["current"]["mv_per_a"],
            "sync_channel": line["sync"]["channel"],
            "sync_cylinder": line["sync"]["cylinder"],
            "sync_event": line["sync"]["event"],
            "sync_every": line["sync"]["every_deg"],
            "fuel": line["fuel"],
        }
        call_command("balance", str(reference("ref-01.csv")), json=True, **options)
        printed = json.loads(capsys.readouterr().out)
        answer = client_for(cast.mechanic).get(_address(run, "result"))
        taken = json.loads(answer.content)
        assert "attachment" in answer.headers["Content-Disposition"]
        assert list(taken) == list(printed)
        for one in (printed, taken):
            assert one.pop("seconds") >= 0
        assert taken == printed

    def test_before_there_is_one(self, run: Run, cast: Cast, client_for: ClientFor) -> None:
        Run.objects.filter(pk=run.pk).update(result=None)
        for what in ("result", "case"):
            answer = client_for(cast.mechanic).get(_address(run, what), {"part": "whole"})
            assert answer.status_code == 404


class TestWhoMay:
    @pytest.mark.parametrize("what", ["data", "result", "case"])
    def test_everybody_of_the_shop_and_nobody_else(
        self, run: Run, cast: Cast, client_for: ClientFor, what: str
    ) -> None:
        for member in cast.insiders.values():
            answer = client_for(member).get(_address(run, what), {"part": "crank"})
            assert answer.status_code == 200
            assert _body(answer)
            assert "no-store" in answer.headers["Cache-Control"]
        for member in (cast.outsider, cast.other_owner, cast.both_there):
            answer = client_for(member).get(_address(run, what), {"part": "crank"})
            assert answer.status_code == 404

    def test_a_case_is_only_made_when_it_is_said_how_much_of_it(
        self, run: Run, cast: Cast, client_for: ClientFor
    ) -> None:
        for asked in ({}, {"part": "half"}):
            answer = client_for(cast.diagnostician).get(_address(run, "case"), asked)
            assert answer.status_code == 400

    def test_samples_that_are_gone(
        self, run: Run, cast: Cast, client_for: ClientFor, media: Path
    ) -> None:
        for path in (media / "derived").rglob("*.npy"):
            path.unlink()
        for what in ("data", "case"):
            answer = client_for(cast.mechanic).get(_address(run, what), {"part": "crank"})
            assert answer.status_code == 404
            assert "samples" in answer.content.decode()
            assert answer.headers["Content-Type"].startswith("text/plain")


def _with_rest(seconds: int) -> bytes:
    """Return the first reference recording with a rest after it."""
    lines = reference("ref-01.csv").read_text().splitlines()
    rows = [line.split(",") for line in lines if line[:1].isdigit()]
    step_s = float(rows[1][0]) - float(rows[0][0])
    last_s = float(rows[-1][0])
    rest = [
        ",".join([f"{last_s + i * step_s:.6f}", *rows[i % 100][1:]])
        for i in range(1, round(seconds / step_s))
    ]
    return ("\n".join([*lines, *rest]) + "\n").encode()


def test_the_crank_alone_is_shorter_and_holds_all_that_was_judged(
    add_read: Callable[..., Capture],
    cast: Cast,
    engine: Engine,
    client_for: ClientFor,
    tmp_path: Path,
) -> None:
    capture = add_read(_with_rest(6))
    setup = reference_setup("ref-01.csv")
    run = run_add(member=cast.diagnostician, capture=capture, analysis=setup, engine=engine)
    assert run_analyse(run.pk)
    run.refresh_from_db()
    report = run.report
    assert report
    assert report.judged_from_s is not None
    assert report.judged_to_s is not None
    client, found, cases = client_for(cast.diagnostician), {}, {}
    for part in ("crank", "whole"):
        path = tmp_path / f"{part}.zip"
        path.write_bytes(_body(client.get(_address(run, "case"), {"part": part})))
        found[part] = read(path).waveform
        case = read_case(path)
        assert case is not None
        assert (case.part, case.samples) == (part, found[part].samples)
        cases[part] = case
    crank, whole = found["crank"], found["whole"]
    assert crank.duration_s < whole.duration_s - 3
    assert crank.t0_s <= report.judged_from_s
    assert crank.t0_s + crank.duration_s >= report.judged_to_s
    again = judge(crank, cases["crank"].setup)
    assert [e.call for e in again.estimates] == [e.call for e in report.estimates]


def test_the_card_offers_all_of_it(run: Run, page: Callable[..., str], cast: Cast) -> None:
    shown = page(run.capture, cast.writer)
    for what in ("data", "result", "case", "evidence"):
        assert _address(run, what) in shown
    assert "Export" in shown
