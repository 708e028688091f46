"""Cases: what comes out is what went in, and a stranger's is taken on no trust."""

import hashlib
import io
import json
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engines.core.firing import FiringOrder
from tests.traces.core.readers import files
from tests.traces.core.synthetic import Crank
from traces.core.case import (
    Case,
    CaseChannel,
    known_unit,
    moved,
    start_kept_s,
    told_result,
    with_parts,
)
from traces.core.case_writing import write_case
from traces.core.hand import Hand, HandMarks
from traces.core.readers import ReadError, read
from traces.core.readers.case_files import read_case
from traces.core.setup import AnalysisSetup, SyncSetup
from traces.core.signals.judging import judge
from traces.core.waveform import Channel, Waveform
from traces.core.wording import setup_words

Members = dict[str, bytes]
_LATER = "later version"
_DAMAGED = "damaged or was changed"


def _members(content: bytes) -> Members:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _archive(members: Members, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", method) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return file.getvalue()


def _whole() -> Members:
    return _members(files.content("case"))


def _path(folder: Path, content: bytes) -> Path:
    path = folder / "sent.case.zip"
    path.write_bytes(content)
    return path


def _refused(folder: Path, members: Members, match: str = _DAMAGED) -> None:
    path = _path(folder, _archive(members))
    for way in (read, read_case):
        with pytest.raises(ReadError, match=match):
            way(path)


def _changed(name: str, change: Callable[[Any], None]) -> Members:
    """Return a case one of whose JSON members was changed."""
    members = _whole()
    data = json.loads(members[name])
    change(data)
    members[name] = json.dumps(data).encode()
    return members


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
    write_case(file, files.a_case(), [Channel("A", "V", still), Channel("B", "V", still)])
    found = read(_path(tmp_path, file.getvalue()))
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
    path = _path(tmp_path, file.getvalue())
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
    assert "AB 123 plug" in report.sync_note
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


@pytest.mark.parametrize("missing", ["samples.npy", "result.json"])
def test_a_case_that_lacks_a_part(tmp_path: Path, missing: str) -> None:
    members = _whole()
    del members[missing]
    _refused(tmp_path, members, "is no case")


def test_without_a_manifest_samples_are_a_plain_recording(tmp_path: Path) -> None:
    members = _whole()
    del members["manifest.json"]
    path = _path(tmp_path, _archive(members))
    assert read_case(path) is None
    assert read(path).format == "NumPy"


def test_a_case_with_more_in_it(tmp_path: Path) -> None:
    for name in ("../../escaped.txt", "/etc/escaped", "manifest.json/x", "more.npy"):
        _refused(tmp_path, {**_whole(), name: b"x"})
    assert not (tmp_path.parent / "escaped.txt").exists()


def test_names_that_lead_elsewhere_are_never_written_to(tmp_path: Path) -> None:
    members = _whole()
    samples = members.pop("samples.npy")
    _refused(tmp_path, {**members, "../samples.npy": samples}, "is no case")
    assert [p.name for p in tmp_path.iterdir()] == ["sent.case.zip"]


def test_samples_that_are_not_the_senders(tmp_path: Path) -> None:
    members = _whole()
    samples = bytearray(members["samples.npy"])
    samples[-1] ^= 0x01
    path = _path(tmp_path, _archive({**members, "samples.npy": bytes(samples)}))
    with pytest.raises(ReadError, match=_DAMAGED):
        read(path)


def _saved(values: Any) -> bytes:
    file = io.BytesIO()
    np.save(file, values, allow_pickle=True)
    return file.getvalue()


@pytest.mark.parametrize(
    "samples",
    [
        _saved(np.zeros((2, files.SAMPLES))),
        _saved(np.zeros((files.SAMPLES, 2), dtype=np.float32)),
        _saved(np.asfortranarray(np.zeros((2, files.SAMPLES), dtype=np.float32))),
        _saved(np.zeros((3, files.SAMPLES), dtype=np.float32)),
        _saved(np.array([{"an": "object"}], dtype=object)),
        _saved(np.zeros((2, files.SAMPLES), dtype=np.float32)) + b"more",
        b"\x93NUMPY" + b"\xff" * 40,
        b"",
    ],
    ids=["doubles", "turned", "by column", "too many", "objects", "a tail", "no header", "empty"],
)
def test_samples_of_another_kind(tmp_path: Path, samples: bytes) -> None:
    path = _path(tmp_path, _archive({**_whole(), "samples.npy": samples}))
    with pytest.raises(ReadError, match=r"damaged"):
        read(path)


def test_a_bomb_of_samples(tmp_path: Path) -> None:
    path = _path(tmp_path, _archive({**_whole(), "samples.npy": bytes(64 << 20)}))
    with pytest.raises(ReadError, match="unpacks to far more"):
        read(path)


def test_huge_claims(tmp_path: Path) -> None:
    def claim(samples: int) -> Members:
        return _changed("manifest.json", lambda m: m["reading"].update(samples=samples))

    path = _path(tmp_path, _archive(claim(10**9)))
    with pytest.raises(ReadError, match="more samples than"):
        read(path)
    path = _path(tmp_path, _archive(claim(10**8)))
    with pytest.raises(ReadError, match="unpacks to far more"):
        read(path)
    for samples in (10**15, 0, 1, -5, files.SAMPLES + 1, files.SAMPLES - 1):
        path = _path(tmp_path, _archive(claim(samples)))
        with pytest.raises(ReadError):
            read(path)


@pytest.mark.parametrize("name", ["manifest.json", "result.json"])
@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[]",
        b"null",
        b"{",
        b"\xff\xfe",
        b'{"version": NaN}',
        b'{"version": 1e999}',
        b"[" * 200_000,
        b'{"a":' * 50_000 + b"1" + b"}" * 50_000,
        b'{"version": ' + b"9" * 10_000 + b"}",
        b" " * (5 << 20),
    ],
    ids=[
        "nothing",
        "list",
        "null",
        "cut",
        "no text",
        "nan",
        "infinite",
        "deep",
        "deeper",
        "long",
        "large",
    ],
)
def test_json_that_is_none(tmp_path: Path, name: str, text: bytes) -> None:
    _refused(tmp_path, {**_whole(), name: text}, match=rf"{_DAMAGED}|is no case")


def test_a_figure_that_is_none(tmp_path: Path) -> None:
    members = _whole()
    text = members["manifest.json"].replace(b'"rate_hz": 1000.0', b'"rate_hz": NaN')
    assert b"NaN" in text
    _refused(tmp_path, {**members, "manifest.json": text})


def test_a_later_version_says_what_to_do(tmp_path: Path) -> None:
    _refused(tmp_path, _changed("manifest.json", lambda m: m.update(version=2)), _LATER)


def test_another_manifest_is_no_case(tmp_path: Path) -> None:
    _refused(tmp_path, _changed("manifest.json", lambda m: m.update(format="x")), "is no case")
    path = _path(tmp_path, _archive({"manifest.json": b"{}", "index.html": b"<p>"}))
    with pytest.raises(ReadError, match="is no case"):
        read(path)


_TEXT = "Jane Doe <script>"
_CHANGES: list[tuple[str, str, Any]] = [
    ("code_version", "", _TEXT),
    ("engine", "layout", _TEXT),
    ("engine", "cylinders", 6),
    ("engine", "fuel", "diesel"),
    ("engine", "firing_order", "1-2-4-3"),
    ("setup", "fuel", "coal"),
    ("setup", "signal", _TEXT),
    ("setup", "cranked_by", _TEXT),
    ("setup", "invert", "yes"),
    ("setup", "mv_per_a", 1e300),
    ("setup", "mv_per_a", "10"),
    ("setup", "mv_per_a", True),
    ("setup", "suspect_below", -1),
    ("setup", "firing_order", "1-1-1-1"),
    ("setup", "firing_order", 1342),
    ("setup", "tdc_angles", [0, 1e400]),
    ("setup", "tdc_angles", None),
    ("setup", "sync", {"channel": "sync", "cylinder": 9, "event": "ignition", "every_deg": 720}),
    ("setup", "sync", {"channel": "sync", "cylinder": 1, "event": "x", "every_deg": 720}),
    ("setup", "current_channel", _TEXT),
    ("setup", "current_channel", "sync"),
    ("setup", "voltage_channel", "battery voltage"),
    ("setup", "wheel", {"teeth": 1e9, "missing": 0}),
    ("conditions", "throttle", _TEXT),
    ("conditions", "temperature", 5),
    ("conditions", "battery_v", 1e9),
    ("conditions", "fuel_off", "yes"),
    ("reading", "channels", [{"name": _TEXT, "unit": "V"}, {"name": "sync", "unit": "V"}]),
    ("reading", "channels", [{"name": "clamp", "unit": _TEXT}, {"name": "sync", "unit": "V"}]),
    ("reading", "channels", [{"name": "sync", "unit": "V"}, {"name": "clamp", "unit": "V"}]),
    ("reading", "channels", [{"name": "clamp", "unit": "V"}]),
    ("reading", "rate_hz", 0),
    ("reading", "start_s", 1e300),
    ("reading", "format", _TEXT),
    ("reading", "part", _TEXT),
    ("reading", "sha256", "0" * 63),
    ("reading", "full_scale", 1),
]


@pytest.mark.parametrize(
    ("part", "key", "value"), _CHANGES, ids=[f"{i}-{c[0]}-{c[1]}" for i, c in enumerate(_CHANGES)]
)
def test_a_manifest_is_taken_on_no_trust(tmp_path: Path, part: str, key: str, value: Any) -> None:
    def change(manifest: dict[str, Any]) -> None:
        if key:
            manifest[part][key] = value
        else:
            manifest[part] = value

    _refused(tmp_path, _changed("manifest.json", change))


@pytest.mark.parametrize(
    "changes",
    [
        {"verdict": _TEXT},
        {"candidates": [["x"]]},
        {"candidates": [[1]] * 1000},
        {"cycles": -1},
        {"cranking_rpm": 1e300},
        {"findings": [{"code": _TEXT, "severity": "stop"}]},
        {"findings": [{"code": "drift", "severity": _TEXT}]},
        {"positions": [{"position": 1, "relative": "x", "low": 0, "high": 0, "call": "sound"}]},
        {"positions": [{"position": 1, "relative": 1, "low": 0, "high": 0, "call": _TEXT}]},
        {"positions": [{"position": 99, "relative": 1, "low": 0, "high": 0, "call": "sound"}]},
        {"schema": 2},
        {"cylinders": {}},
    ],
    ids=lambda c: "-".join(f"{k}{len(str(v))}" for k, v in c.items()),
)
def test_a_result_is_taken_on_no_trust(tmp_path: Path, changes: dict[str, Any]) -> None:
    _refused(tmp_path, _changed("result.json", lambda r: r.update(changes)))


def test_what_is_not_asked_for_is_not_taken_over(tmp_path: Path) -> None:
    members = _changed("result.json", lambda r: r.update(sync_note=_TEXT, extra={"x": _TEXT}))
    found = read_case(_path(tmp_path, _archive(members)))
    assert found is not None
    assert _TEXT not in json.dumps(found.to_json())


def test_a_locked_or_strangely_packed_one(tmp_path: Path) -> None:
    path = _path(tmp_path, _archive(_whole(), zipfile.ZIP_LZMA))
    with pytest.raises(ReadError, match=_DAMAGED):
        read(path)
    locked = bytearray(_archive(_whole()))
    at = locked.find(b"PK\x01\x02")
    while at >= 0:
        flags = struct.unpack_from("<H", locked, at + 8)[0]
        struct.pack_into("<H", locked, at + 8, flags | 0x1)
        at = locked.find(b"PK\x01\x02", at + 4)
    path = _path(tmp_path, bytes(locked))
    with pytest.raises(ReadError, match=_DAMAGED):
        read(path)


def test_channels_carry_the_names_of_their_parts(tmp_path: Path) -> None:
    case = replace(files.a_case(), channels=(CaseChannel("clamp"), CaseChannel("sync", "mV")))
    file = io.BytesIO()
    write_case(file, case, [Channel("A", None, files.A.copy()), Channel("B", "V", files.B.copy())])
    found = read(_path(tmp_path, file.getvalue()))
    assert [(c.name, c.unit) for c in found.channels] == [("clamp", None), ("sync", "mV")]


def test_what_a_hand_changed_goes_along_and_moves_with_the_start(tmp_path: Path) -> None:
    hand = Hand(
        shift=1,
        span_s=(100_001.0, 100_004.0),
        left_out_s=((100_001.5, 100_002.0),),
        marks=HandMarks((100_001.25, 100_003.5), 3, "tdc"),
    )
    setup = moved(replace(files.a_case().setup, hand=hand), -100_000.0)
    file = io.BytesIO()
    channels = [Channel("A", "V", files.A.copy()), Channel("B", "V", files.B.copy())]
    write_case(file, replace(files.a_case(), setup=setup), channels)
    found = read_case(_path(tmp_path, file.getvalue()))
    assert found is not None
    assert found.setup.hand == Hand(
        shift=1,
        span_s=(1.0, 4.0),
        left_out_s=((1.5, 2.0),),
        marks=HandMarks((1.25, 3.5), 3, "tdc"),
    )


@pytest.mark.parametrize(
    "hand",
    [
        {"note": _TEXT},
        {"shift": 1e300},
        {"span_s": [0, float("1e400")]},
        {"marks": {"times_s": [1], "cylinder": 1, "event": _TEXT}},
        {"left_out_s": [[0, 1]] * 1000},
        _TEXT,
    ],
    ids=["free text", "shift", "endless", "event", "many", "no object"],
)
def test_what_a_hand_changed_is_taken_on_no_trust(tmp_path: Path, hand: Any) -> None:
    _refused(tmp_path, _changed("manifest.json", lambda m: m["setup"].update(hand=hand)))


def test_a_set_up_by_parts_is_said_without_saying_them_twice() -> None:
    line = setup_words(files.a_case().setup)
    assert line.startswith("firing order 1-3-4-2; clamp at 10 mV/A; sync: ignition pick-up of")
