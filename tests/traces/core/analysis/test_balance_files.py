"""Manifest lines to set-ups and results; what is wrong with one never stops the rest."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.wording import says
from traces.core.analysis.balance_files import (
    Entry,
    manifest_entries,
    result_of,
    results_of,
    setup_from,
    text_of,
)
from traces.core.readers import ReadError
from traces.core.setup.analysis_setup import AnalysisSetup, SetupError, ToothWheel

SYNC: dict[str, Any] = {"channel": "coil", "cylinder": 3, "every_deg": 720, "event": "ignition"}
GOOD: dict[str, Any] = {
    "file": "x.csv",
    "firing_order": "1-3-4-2",
    "tdc_angles": None,
    "current": {"channel": "clamp", "mv_per_a": 10.0, "volts_per_full_scale": None},
    "sync": SYNC,
    "fuel": "petrol",
}
KEYS = [
    "schema",
    "file",
    "verdict",
    "cylinders",
    "positions",
    "candidates",
    "cranking_rpm",
    "cycles",
    "findings",
    "error",
    "seconds",
]


def test_a_line_becomes_a_set_up() -> None:
    setup = setup_from({**GOOD, "truth": {"low": [1]}})
    assert str(setup.firing_order) == "1-3-4-2"
    assert setup.sync is not None
    assert (setup.sync.cylinder, setup.sync.every_deg) == (3, 720)
    assert AnalysisSetup.from_json(setup.to_json()) == setup


def test_other_signals_and_what_belongs_to_them_are_keys_of_a_line() -> None:
    line = {
        **GOOD,
        "current": {"channel": "VBatt"},
        "signal": "battery-voltage",
        "sync": {**SYNC, "bit": 2},
    }
    setup = setup_from(line)
    assert (setup.signal, setup.current_channel) == ("battery-voltage", "VBatt")
    assert setup.sync is not None
    assert setup.sync.bit == 2
    assert AnalysisSetup.from_json(setup.to_json()) == setup
    setup = setup_from({**line, "signal": "crank-teeth", "wheel": {"teeth": 60, "missing": 2}})
    assert setup.wheel == ToothWheel(60, 2)
    assert AnalysisSetup.from_json(setup.to_json()) == setup
    for wheel in ("36-2-1-1", {"pattern": "36-2-1-1", "teeth": 36}):
        told = setup_from({**line, "signal": "crank-teeth", "wheel": wheel})
        assert told.wheel == ToothWheel(36, gaps=(2, 1, 1))
        assert AnalysisSetup.from_json(told.to_json()) == told
    assert setup_from({**GOOD, "voltage_channel": "battery"}).voltage_channel == "battery"


@pytest.mark.parametrize(("typed", "taken"), [({}, 0.055), ({"bank_even_within": 0.08}, 0.08)])
def test_the_limit_for_banks_is_a_key_of_a_line(typed, taken: float) -> None:
    setup = setup_from({**GOOD, "banks": [[1, 2], [3, 4]], **typed})
    assert (setup.banks, setup.bank_even_within) == (((1, 2), (3, 4)), taken)
    assert AnalysisSetup.from_json(setup.to_json()) == setup


def test_set_ups_from_before_other_signals_are_read() -> None:
    setup = setup_from(GOOD)
    old = setup.to_json()
    for key in ("signal", "voltage_channel", "wheel"):
        del old[key]
    del old["sync"]["bit"]
    assert AnalysisSetup.from_json(old) == setup


@pytest.mark.parametrize("change", [{"sync": None}, {"sync": ...}])
def test_no_sync_may_be_null_or_missing(change) -> None:
    data = {**GOOD, **change}
    if data["sync"] is ...:
        del data["sync"]
    assert setup_from(data).sync is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"firing_order": "1-3-4"}, "Cylinder 2 is missing"),
        ({"firing_order": 1342}, "needs firing_order"),
        ({"current": None}, "needs firing_order and current"),
        ({"current": {"channel": "clamp"}}, "mV/A must be a number"),
        ({"current": {"channel": "", "mv_per_a": 10}}, "by name or by number"),
        ({"current": {"channel": "clamp", "mv_per_a": 0}}, "between 0.01 and 10000"),
        ({"tdc_angles": [0, 1, 2, 3]}, "rise by at least 10"),
        ({"tdc_angles": "a,b,c,d"}, "are not angles"),
        ({"tdc_angles": [None, 1, 2, 3]}, "numbers? of degrees|degrees like"),
        ({"sync": {**SYNC, "cylinder": 9}}, "not in the firing order"),
        ({"sync": {**SYNC, "every_deg": 180}}, "360 or every 720"),
        ({"sync": {**SYNC, "event": "magic"}}, "ignition, injector or cam"),
        ({"sync": {**SYNC, "channel": "clamp"}}, "same channel"),
        ({"sync": "coil"}, "Sync needs channel"),
        ({"fuel": "steam"}, "petrol or diesel"),
        ({"bank_even_within": "wide"}, "limit for banks must be a number"),
        ({"bank_even_within": 5}, "between 0.02 and 0.3"),
        ({"rate_hz": "fast"}, "sample rate must be a number"),
        ({"signal": "smoke"}, "A signal is starter-current"),
        ({"voltage_channel": ""}, "by name or by number"),
        ({"voltage_channel": "clamp"}, "battery voltage cannot be on"),
        (
            {"voltage_channel": "battery", "signal": "battery-voltage"},
            "beside the starter current only",
        ),
        ({"sync": {**SYNC, "bit": "high"}}, "sync bit must be a whole number"),
        ({"sync": {**SYNC, "bit": 32}}, "between 0, the lowest, and 31"),
        ({"wheel": 60}, "tooth wheel needs"),
        ({"wheel": "60-x"}, "places and missing teeth"),
        ({"wheel": {"pattern": 60}}, "must be a text"),
        ({"wheel": {"pattern": "36-1", "teeth": 60}}, "do not agree"),
        ({"wheel": {"teeth": 3}}, "4 to 400 teeth"),
        ({"wheel": {"teeth": 60, "missing": 16}}, "At most a quarter"),
        ({"wheel": {"teeth": 60.5}}, "number of teeth must be a whole number"),
    ],
)
def test_a_wrong_line_says_what_is_wrong(change, words: str) -> None:
    with pytest.raises(SetupError, match=words) as raised:
        setup_from({**GOOD, **change})
    assert str(raised.value).endswith(".")


def test_one_bad_entry_stops_no_other(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\r\n\x1a\n")
    lines = [
        json.dumps({**GOOD, "file": "empty.csv"}),
        "not json",
        json.dumps({**GOOD, "file": "gone.csv"}),
        "",
        json.dumps([1, 2]),
        json.dumps({**GOOD, "file": "picture.csv"}),
        json.dumps({**GOOD, "file": "empty.csv", "firing_order": "1-1"}),
    ]
    manifest = tmp_path / "list.jsonl"
    manifest.write_text("\n".join(lines) + "\n")
    results = list(results_of(manifest_entries(manifest)))
    assert [r["file"] for r in results] == [
        "empty.csv",
        "line 2",
        "gone.csv",
        "line 5",
        "picture.csv",
        "empty.csv",
    ]
    for result in results:
        assert list(result)[: len(KEYS)] == KEYS
        assert result["verdict"] == "not judged"
        assert result["error"].endswith(".")
        assert result["candidates"] == []
        assert result["cylinders"] is None


def test_a_fault_of_the_program_is_named_and_stops_no_other(monkeypatch, tmp_path) -> None:
    (tmp_path / "x.csv").write_text("Time [s],clamp [V],coil [V]\n0,1,2\n1,2,3\n")
    entry = Entry(tmp_path / "x.csv", "x.csv", setup_from(GOOD))

    def broken(*_args):
        raise ZeroDivisionError

    monkeypatch.setattr("traces.core.analysis.balance_files.judge", broken)
    first, second = results_of([entry, entry])
    assert "ZeroDivisionError" in first["error"]
    assert second["file"] == "x.csv"


def test_a_manifest_that_is_not_there(tmp_path) -> None:
    with pytest.raises(ReadError) as refused:
        list(manifest_entries(tmp_path / "gone.jsonl"))
    assert says(refused.value, "balance_files.manifest-cannot-read-check")


def test_results_of_the_references_are_as_published(references) -> None:
    for name in ("ref-01", "ref-16", "ref-21"):
        reference = references[name]
        result = result_of(Entry(reference.path, reference.path.name, reference.setup))
        assert list(result)[: len(KEYS)] == KEYS
        assert json.loads(json.dumps(result)) == result
        assert result["error"] is None
        assert result["seconds"] >= 0
        for found in result["findings"]:
            assert list(found) == [
                "code",
                "severity",
                "channel",
                "from_s",
                "to_s",
                "message",
                "remedy",
            ]
    assert result["positions"] == []


def test_cylinders_go_by_number_and_positions_from_the_sync(references) -> None:
    reference = references["ref-03"]
    result = result_of(Entry(reference.path, "ref-03.csv", reference.setup))
    assert [c["cylinder"] for c in result["cylinders"]] == [1, 2, 3, 4, 5, 6]
    assert [p["position"] for p in result["positions"]] == [1, 2, 3, 4, 5, 6]
    by_number = {c["cylinder"]: c["relative"] for c in result["cylinders"]}
    # the sync marks cylinder 5 of 1-2-3-4-5-6
    assert [p["relative"] for p in result["positions"]] == [
        by_number[c] for c in (5, 6, 1, 2, 3, 4)
    ]
    for figure in result["cylinders"]:
        assert figure["low"] <= figure["relative"] <= figure["high"]
    text = text_of(result)
    assert "low: 1, 4" in text
    assert "high" not in text
    high = {"relative": 1.3, "low": 1.25, "high": 1.35, "call": "sound"}
    result["cylinders"][5] |= high
    result["positions"][1] |= high
    assert "cylinder  6  1.30  (1.25 to 1.35)  high" in text_of(result)
    assert "ref-03.csv: uneven" in text
