"""Cases of a stranger are taken on no trust."""

import io
import json
import struct
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.traces.core.readers import files
from tests.traces.core.sent_cases import (
    DAMAGED,
    LATER,
    Members,
    archive_of,
    changed_case,
    check_refused,
    sent_path,
    whole_case,
)
from tests.wording import says
from traces.core.readers import ReadError, read
from traces.core.readers.case_files import read_case


@pytest.mark.parametrize("missing", ["samples.npy", "result.json"])
def test_a_case_that_lacks_a_part(tmp_path: Path, missing: str) -> None:
    members = whole_case()
    del members[missing]
    check_refused(tmp_path, members, "is no case")


def test_without_a_manifest_samples_are_a_plain_recording(tmp_path: Path) -> None:
    members = whole_case()
    del members["manifest.json"]
    path = sent_path(tmp_path, archive_of(members))
    assert read_case(path) is None
    assert read(path).format == "NumPy"


def test_a_case_with_more_in_it(tmp_path: Path) -> None:
    for name in ("../../escaped.txt", "/etc/escaped", "manifest.json/x", "more.npy"):
        check_refused(tmp_path, {**whole_case(), name: b"x"})
    assert not (tmp_path.parent / "escaped.txt").exists()


def test_names_that_lead_elsewhere_are_never_written_to(tmp_path: Path) -> None:
    members = whole_case()
    samples = members.pop("samples.npy")
    check_refused(tmp_path, {**members, "../samples.npy": samples}, "is no case")
    assert [p.name for p in tmp_path.iterdir()] == ["sent.case.zip"]


def test_samples_that_are_not_the_senders(tmp_path: Path) -> None:
    members = whole_case()
    samples = bytearray(members["samples.npy"])
    samples[-1] ^= 0x01
    path = sent_path(tmp_path, archive_of({**members, "samples.npy": bytes(samples)}))
    with pytest.raises(ReadError, match=DAMAGED):
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
    path = sent_path(tmp_path, archive_of({**whole_case(), "samples.npy": samples}))
    with pytest.raises(ReadError, match=r"damaged"):
        read(path)


def test_a_bomb_of_samples(tmp_path: Path) -> None:
    path = sent_path(tmp_path, archive_of({**whole_case(), "samples.npy": bytes(64 << 20)}))
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "packed.unpacks-far-more-recording")


def test_huge_claims(tmp_path: Path) -> None:
    def claim(samples: int) -> Members:
        return changed_case("manifest.json", lambda m: m["reading"].update(samples=samples))

    path = sent_path(tmp_path, archive_of(claim(10**9)))
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-holds-more-samples")
    path = sent_path(tmp_path, archive_of(claim(10**8)))
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-unpacks-far-more")
    for samples in (10**15, 0, 1, -5, files.SAMPLES + 1, files.SAMPLES - 1):
        path = sent_path(tmp_path, archive_of(claim(samples)))
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
    check_refused(tmp_path, {**whole_case(), name: text}, match=rf"{DAMAGED}|is no case")


def test_a_figure_that_is_none(tmp_path: Path) -> None:
    members = whole_case()
    text = members["manifest.json"].replace(b'"rate_hz": 1000.0', b'"rate_hz": NaN')
    assert b"NaN" in text
    check_refused(tmp_path, {**members, "manifest.json": text})


def test_a_later_version_says_what_to_do(tmp_path: Path) -> None:
    check_refused(tmp_path, changed_case("manifest.json", lambda m: m.update(version=2)), LATER)


def test_another_manifest_is_no_case(tmp_path: Path) -> None:
    check_refused(
        tmp_path, changed_case("manifest.json", lambda m: m.update(format="x")), "is no case"
    )
    path = sent_path(tmp_path, archive_of({"manifest.json": b"{}", "index.html": b"<p>"}))
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "case.archive-manifest-but-no")


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
    (
        "setup",
        "sync",
        {
            "channel": "sync",
            "cylinder": 1,
            "event": "cam",
            "every_deg": 720,
            "bit": None,
            "angle_deg": _TEXT,
        },
    ),
    (
        "setup",
        "sync",
        {
            "channel": "sync",
            "cylinder": 1,
            "event": "cam",
            "every_deg": 720,
            "bit": None,
            "angle_deg": 12.0,
            "angle_from": _TEXT,
        },
    ),
    ("setup", "banks", [[1, 2], [3, "4"]]),
    ("setup", "banks", [[1, 2], [3]]),
    ("setup", "banks", _TEXT),
    ("setup", "bank_even_within", 2.0),
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

    check_refused(tmp_path, changed_case("manifest.json", change))


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
    check_refused(tmp_path, changed_case("result.json", lambda r: r.update(changes)))


def test_what_is_not_asked_for_is_not_taken_over(tmp_path: Path) -> None:
    members = changed_case("result.json", lambda r: r.update(sync_note=_TEXT, extra={"x": _TEXT}))
    found = read_case(sent_path(tmp_path, archive_of(members)))
    assert found is not None
    assert _TEXT not in json.dumps(found.to_json())


def test_a_locked_or_strangely_packed_one(tmp_path: Path) -> None:
    path = sent_path(tmp_path, archive_of(whole_case(), zipfile.ZIP_LZMA))
    with pytest.raises(ReadError, match=DAMAGED):
        read(path)
    locked = bytearray(archive_of(whole_case()))
    at = locked.find(b"PK\x01\x02")
    while at >= 0:
        flags = struct.unpack_from("<H", locked, at + 8)[0]
        struct.pack_into("<H", locked, at + 8, flags | 0x1)
        at = locked.find(b"PK\x01\x02", at + 4)
    path = sent_path(tmp_path, bytes(locked))
    with pytest.raises(ReadError, match=DAMAGED):
        read(path)


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
    check_refused(tmp_path, changed_case("manifest.json", lambda m: m["setup"].update(hand=hand)))
