"""Exports of bench instruments and the reference captures: channels, unit, rate, count, start."""

import numpy as np
import pytest

from traces.core.readers import read
from traces.core.readers.inspecting import inspection
from traces.core.signals.edges import edge_times_s

# What the files themselves say: see their first and last lines.
BENCH = {
    "bench-a.csv": (["1", "2"], "V", 500_000.0, 1000, -1e-3),
    "bench-b.csv": (["1"], "V", 500_000.0, 1000, -1e-3),
    "bench-c.csv": (["CH1"], "V", 50_000_000.0, 600, -5.9999998e-06),
    "bench-d.csv": (["CH1", "CH2"], "V", 200_000.0, 1400, -3.5e-3),
    "bench-e.wav": (["1"], None, 32_000.0, 139_256, 0.0),
}


@pytest.mark.parametrize("name", sorted(BENCH))
def test_bench_exports_come_out_right(real, name: str) -> None:
    names, unit, rate_hz, samples, start_s = BENCH[name]
    recording = read(real / name)
    assert [c.name for c in recording.channels] == names
    assert {c.unit for c in recording.channels} == {unit}
    assert recording.rate_hz == rate_hz
    assert recording.samples == samples
    assert recording.t0_s == start_s
    assert recording.uniform


def test_first_values_and_gaps_of_a_bench_export(real) -> None:
    found = inspection(read(real / "bench-a.csv"), file="bench-a.csv")
    first, second = found["channels"]
    assert first["first"] == -0.000249982
    assert second["first"] == 0.0315001
    # the last row of this file has a time and no values
    assert (first["missing"], second["missing"]) == (1, 1)


@pytest.mark.parametrize(
    ("name", "first", "last"),
    # figures of the files' first and last rows
    [
        ("bench-b.csv", [-0.000249982], None),
        ("bench-c.csv", [4.4], None),
        ("bench-d.csv", [0.024, 0.008], None),
        ("i4-battery-voltage-plugs-in.csv", [0, 0, 0, 12.59, 98.72], 15.769994),
        ("i4-battery-voltage-plugs-out.csv", [0, 0, 0, 11.67, 98.72], 36.193195),
    ],
)
def test_first_rows_are_those_of_the_file(real, name, first, last) -> None:
    recording = read(real / name)
    rows = inspection(recording, file=name)["preview"]["rows"]
    assert len(rows) == 6
    assert rows[0]["values"] == first
    assert rows[0]["time_s"] == pytest.approx(recording.t0_s, rel=1e-9)
    if last is not None:
        end_s = recording.t0_s + (recording.samples - 1) / recording.waveform.rate_hz
        assert end_s == pytest.approx(last, abs=1 / recording.waveform.rate_hz)


@pytest.mark.parametrize("name", ["plugs-in", "plugs-out"])
def test_channels_of_a_control_units_log(real, name) -> None:
    recording = read(real / f"i4-battery-voltage-{name}.csv")
    names = ["Primary", "TDC", "Injectors", "VBatt", "InstantMAP"]
    assert [(c.name, c.unit) for c in recording.channels] == [(n, None) for n in names]


@pytest.mark.parametrize(
    ("name", "lines", "columns", "time"),
    [
        ("bench-a.csv", (1, 3), ["x-axis", "1", "2"], (1, "s")),
        ("bench-c.csv", (1, 3), ["X", "CH1"], (1, "s")),
        # its first column counts the rows
        ("bench-d.csv", (1, 3), ["X", "CH1", "CH2"], (None, None)),
        ("i4-battery-voltage-plugs-in.csv", (1, 2), None, (1, "s")),
    ],
)
def test_how_texts_were_taken_apart(real, name, lines, columns, time) -> None:
    told = inspection(read(real / name), file=name)["preview"]["text"]
    assert (told["delimiter"], told["decimal"]) == (",", ".")
    assert (told["heading_line"], told["first_row_line"]) == lines
    assert columns is None or told["columns"] == columns
    assert (told["time_column"], told["time_unit"]) == time


def test_logs_of_one_kind_have_one_shape_and_others_another(real) -> None:
    files = [path for path in real.iterdir() if path.is_file() and path.suffix != ".md"]
    # a list of edge times has no more structure than any other
    edges = {path.name for path in files if path.suffix == ".txt"}
    voltage = {f"i4-battery-voltage-plugs-{plugs}.csv" for plugs in ("in", "out")}
    names: dict[str, set[str]] = {}
    for path in files:
        names.setdefault(read(path).shape, set()).add(path.name)
    alike = [kind for kind in names.values() if len(kind) > 1]
    assert sorted(map(sorted, alike)) == sorted(map(sorted, (edges, voltage)))


def test_a_file_whose_last_line_is_open_says_so(real) -> None:
    assert any("not closed" in str(note) for note in read(real / "bench-b.csv").notes)


def test_an_uneven_log_is_put_on_a_grid_and_says_so(real) -> None:
    recording = read(real / "i4-battery-voltage-plugs-in.csv")
    assert not recording.uniform
    assert any("uneven" in str(note) for note in recording.notes)
    battery = recording.waveform.channel("VBatt").values
    # the log's own extremes (README beside the files: 10.6 to 11.7 V after the first dip)
    assert 9.8 < float(np.nanmin(battery)) < 10.0
    switches = recording.waveform.channel("Primary").values
    assert set(np.unique(switches)) == {0.0, 1.0}


@pytest.mark.parametrize(
    ("name", "first_s", "last_s", "count"),
    # counted from the files, and their first and last figures
    [
        ("i3-crank-teeth-plugs-in.txt", 0.373121, 1.9884865, 205),
        ("i3-crank-teeth-plugs-out.txt", 0.7862595, 1.356628, 66),
    ],
)
def test_tooth_times_in_one_row_become_a_channel(real, name, first_s, last_s, count) -> None:
    recording = read(real / name)
    assert recording.t0_s == pytest.approx(first_s, abs=2e-3)
    assert recording.t0_s + recording.waveform.duration_s == pytest.approx(last_s, abs=0.01)
    assert any(f"{count} edge times" in str(note) for note in recording.notes)


# counted from the files: channels, and steps up and down of the first
STATES = {
    "i4c-12plus1-plugs-out-1.csv": (["crank"], 124, 125),
    "i4g-36-2-1-running.csv": (["Channel 0", "Channel 1"], 1005, 1006),
    "v6-36-2-1-1-plugs-in-events.csv": (["crank"], 402, 402),
    "v6b-36-2-2-2-two-cams-cranking-1.csv": (["crank", "cam", "Channel 2"], 291, 290),
    # no headings; the level of the first row holds for less than a thousandth of a tooth
    "noisy-1.csv": (["1"], 268, 268),
}


@pytest.mark.parametrize("name", sorted(STATES))
def test_a_log_of_states_keeps_each_step_at_its_exact_time(real, name) -> None:
    names, rising, falling = STATES[name]
    recording = read(real / name)
    assert [c.name for c in recording.channels] == names
    assert not any(np.isnan(c.values).any() for c in recording.channels)
    up_s, down_s = edge_times_s(recording.waveform, recording.channels[0])
    assert (up_s.size, down_s.size) == (rising, falling)
    rows = [line.split(",") for line in (real / name).read_text().splitlines()]
    told = np.array([[float(r[0]), float(r[1])] for r in rows if r[0][0].isdigit()])
    changed_s = told[1:, 0][np.diff(told[:, 1]) != 0]
    found_s = np.sort(np.concatenate((up_s, down_s)))
    assert np.abs(found_s - changed_s[-found_s.size :]).max() < 1e-7


def test_every_reference_has_its_channels_and_rate(references) -> None:
    for name, reference in references.items():
        recording = read(reference.path)
        is_sound = ".wav" in reference.path.suffixes
        wanted = ["1", "2"] if is_sound else ["clamp", "coil"]
        if not reference.line["sync"]:
            wanted = wanted[:1]
        assert [c.name for c in recording.channels] == wanted, name
        if is_sound:
            # manifests of before name them by letters
            named = [recording.waveform.channel(letter) for letter in "AB"]
            assert named == list(recording.channels), name
        unit = None if is_sound else "V"
        assert {c.unit for c in recording.channels} == {unit}, name
        assert recording.rate_hz in (1000.0, 2000.0, 5000.0, 10_000.0), name
        assert recording.uniform, name


@pytest.mark.parametrize(
    ("name", "rate_hz", "samples"),
    # counted from the files: rows, and steps of the time column
    [
        ("ref-01", 2000.0, 6711),
        ("ref-05", 1000.0, 4059),
        ("ref-06", 1000.0, 4479),
        ("ref-09", 1000.0, 5136),
        ("ref-04", 10_000.0, 36_297),
        ("ref-22", 1000.0, 449),
    ],
)
def test_rates_and_counts_of_references(references, name, rate_hz, samples) -> None:
    recording = read(references[name].path)
    assert (recording.rate_hz, recording.samples) == (rate_hz, samples)
