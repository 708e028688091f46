"""Cases: what comes out is what went in, without a name in it."""

import hashlib
import io
import json
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.readers import files
from tests.traces.core.sent_cases import sent_path
from tests.traces.core.synthetic import Crank
from tests.wording import says
from traces.core.analysis.any_signal import judge
from traces.core.case.case import (
    Case,
    CaseChannel,
    known_unit,
    moved,
    start_kept_s,
    told_result,
    with_parts,
)
from traces.core.exports.case_writing import write_case
from traces.core.readers import read
from traces.core.readers.case_files import read_case
from traces.core.report.bank_results import BankDifference, BankMean
from traces.core.report.results import Report
from traces.core.report.wording import setup_words
from traces.core.setup.analysis_setup import AnalysisSetup, SyncSetup
from traces.core.setup.manual_edits import ManualEdits, ManualMarks
from traces.core.waveform.waveform import Channel, Waveform


def test_what_is_written_is_read_again(tmp_path: Path) -> None:
    path = files.written("case", tmp_path)
    found = read_case(path)
    assert found is not None
    sent = files.a_case()
    samples = files.A.astype("<f4").tobytes() + files.B.astype("<f4").tobytes()
    assert found.sha256 == hashlib.sha256(samples).hexdigest()
    assert found.samples == files.SAMPLES
    assert found.setup == sent.setup
    assert found.conditions == sent.conditions
    assert (found.layout, found.part, found.code_version) == ("I4", "whole", "0.1.0")
    assert found.result["verdict"] == "not judged"
    assert Case.from_json(json.loads(json.dumps(found.to_json()))) == found


def test_a_plain_recording_is_no_case(tmp_path: Path) -> None:
    for kind in ("WAV", "NumPy", "zipped text"):
        assert read_case(files.written(kind, tmp_path)) is None


def test_it_is_a_zip_that_tells_no_time_and_no_machine() -> None:
    with zipfile.ZipFile(io.BytesIO(files.content("case"))) as archive:
        assert archive.namelist() == ["manifest.json", "samples.npy", "result.json"]
        assert {m.date_time for m in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {m.create_system for m in archive.infolist()} == {3}
        assert not any(m.extra or m.comment for m in archive.infolist())
        assert archive.comment == b""
        values = np.load(io.BytesIO(archive.read("samples.npy")))
    np.testing.assert_array_equal(values, [files.A, files.B])


def test_long_rests_are_not_taken_for_a_bomb(tmp_path: Path) -> None:
    still = np.zeros(6_000_000, dtype=np.float32)
    file = io.BytesIO()
    write_case(file, files.a_case(), [Channel("clamp", "V", still), Channel("coil", "V", still)])
    found = read(sent_path(tmp_path, file.getvalue()))
    assert found.samples == still.size


def test_the_analysis_of_a_case_is_that_of_the_recording(tmp_path: Path) -> None:
    crank = Crank(strengths=(1.0, 0.5, 1.0, 1.0))
    first = judge(crank.waveform(), crank.setup())
    case = replace(
        files.a_case(),
        setup=with_parts(crank.setup()),
        rate_hz=crank.rate_hz,
        result=told_result(first, {"a": "clamp", "b": "sync"}, 0.0),
    )
    file = io.BytesIO()
    write_case(file, case, crank.waveform().channels)
    path = sent_path(tmp_path, file.getvalue())
    found = read_case(path)
    assert found is not None
    again = judge(read(path).waveform, found.setup)
    assert again.estimates == first.estimates
    assert again.verdict == first.verdict == "uneven"
    assert found.result["positions"] == json.loads(json.dumps(first.to_json()["positions"]))


def test_a_result_keeps_its_figures_and_loses_its_sentences() -> None:
    crank = Crank(strengths=(1.0, 0.5, 1.0, 1.0), invert=True)
    named = Waveform(
        0.0,
        crank.rate_hz,
        tuple(
            Channel(name, "V", channel.values)
            for name, channel in zip(
                ("Jane Doe's clamp", "AB 123 plug"), crank.waveform().channels, strict=True
            )
        ),
    )
    setup = replace(
        crank.setup(),
        current_channel="Jane Doe's clamp",
        sync=SyncSetup("AB 123 plug", 1),
    )
    report = judge(named, setup)
    assert "AB 123 plug" in str(report.sync_note)
    told = told_result(report, {"jane doe's clamp": "clamp", "ab 123 plug": "sync"}, 2.0)
    text = json.dumps(told)
    assert "Jane" not in text
    assert "AB 123" not in text
    turned = next(f for f in told["findings"] if f["code"] == "inverted")
    assert turned["channel"] == "clamp"
    assert report.judged_from_s is not None
    assert told["judged_from_s"] == pytest.approx(report.judged_from_s + 2.0)


def test_units_and_starts_that_may_be_anything_are_not_handed_on() -> None:
    assert [known_unit(u) for u in ("v", "MV", "A", "Doe", None)] == ["V", "mV", "A", None, None]
    assert [start_kept_s(s) for s in (-2.5, 0.0, 3599.0)] == [-2.5, 0.0, 3599.0]
    assert [start_kept_s(s) for s in (1_764_000_000.0, 36_000.0, -1e5)] == [0.0, 0.0, 0.0]


def test_parts_of_other_signals() -> None:
    order = FiringOrder.parse("1-2")
    teeth = AnalysisSetup(order, "7", 1000.0, signal="crank-teeth")
    voltage = AnalysisSetup(order, "7", 1000.0, signal="battery-voltage")
    beside = AnalysisSetup(order, "7", 10.0, voltage_channel="8")
    assert with_parts(teeth).current_channel == "crank sensor"
    assert with_parts(voltage).current_channel == "battery voltage"
    assert with_parts(beside).voltage_channel == "battery voltage"


def test_channels_carry_the_names_of_their_parts(tmp_path: Path) -> None:
    case = replace(files.a_case(), channels=(CaseChannel("clamp"), CaseChannel("sync", "mV")))
    file = io.BytesIO()
    write_case(
        file, case, [Channel("clamp", None, files.A.copy()), Channel("coil", "V", files.B.copy())]
    )
    found = read(sent_path(tmp_path, file.getvalue()))
    assert [(c.name, c.unit) for c in found.channels] == [("clamp", None), ("sync", "mV")]


def test_what_a_hand_changed_goes_along_and_moves_with_the_start(tmp_path: Path) -> None:
    hand = ManualEdits(
        shift=1,
        span_s=(100_001.0, 100_004.0),
        left_out_s=((100_001.5, 100_002.0),),
        marks=ManualMarks((100_001.25, 100_003.5), 3, "tdc"),
    )
    setup = moved(replace(files.a_case().setup, hand=hand), -100_000.0)
    file = io.BytesIO()
    channels = [Channel("clamp", "V", files.A.copy()), Channel("coil", "V", files.B.copy())]
    write_case(file, replace(files.a_case(), setup=setup), channels)
    found = read_case(sent_path(tmp_path, file.getvalue()))
    assert found is not None
    assert found.setup.hand == ManualEdits(
        shift=1,
        span_s=(1.0, 4.0),
        left_out_s=((1.5, 2.0),),
        marks=ManualMarks((1.25, 3.5), 3, "tdc"),
    )


def test_banks_and_the_angle_of_the_event_go_along(tmp_path: Path) -> None:
    sync = replace(SyncSetup("sync", 1), angle_deg=-340.5, angle_spread_deg=4.0, angle_from="kept")
    setup = replace(files.a_case().setup, sync=sync, banks=((1, 2), (3, 4)), bank_even_within=0.06)
    report = Report(
        verdict="even",
        banks=(BankMean((1, 2), 1.01, 0.98, 1.04), BankMean((3, 4), 0.9, 0.87, 0.93)),
        bank_difference=BankDifference(11.0, 6.0, 16.0, (3, 4), "uneven"),
    )
    told = told_result(report, {}, 0.0)
    file = io.BytesIO()
    channels = [Channel("clamp", "V", files.A.copy()), Channel("coil", "V", files.B.copy())]
    write_case(file, replace(files.a_case(), setup=setup, result=told), channels)
    found = read_case(sent_path(tmp_path, file.getvalue()))
    assert found is not None
    assert found.setup == setup
    assert found.result["bank_difference"] == report.to_json()["bank_difference"]
    assert found.result["banks"] == report.to_json()["banks"]


def test_a_set_up_by_parts_is_said_without_saying_them_twice() -> None:
    line = setup_words(files.a_case().setup)
    assert says(line, "wording.firing-order", order="1-3-4-2")
    assert says(line, "wording.mv", clamp="clamp", scale=10)
    assert line.count("sync") == 1
