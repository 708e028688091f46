"""A recording as text with columns: our own reader and others read the same samples back."""

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.wording import says
from traces.core.exports.table_writing import EmptyStretchError, span, table
from traces.core.readers import read
from traces.core.waveform.waveform import Channel, Waveform


def _waveform(
    rate_hz: float = 1000.0,
    t0_s: float = 0.0,
    samples: int = 20_000,
    names: dict[str, str | None] | None = None,
) -> Waveform:
    rng = np.random.default_rng(5)
    channels = tuple(
        Channel(name, unit, rng.normal(0, 10.0 ** (i - 1), samples).astype(np.float32))
        for i, (name, unit) in enumerate((names or {"coil": "V", "clamp": "A"}).items())
    )
    return Waveform(t0_s, rate_hz, channels)


def _written(waveform: Waveform, folder: Path, **stretch: float) -> Path:
    path = folder / "taken.csv"
    path.write_bytes(b"".join(table(waveform, waveform.channels, **stretch)))
    return path


@pytest.mark.parametrize("t0_s", [0.0, -0.5, 1_764_000_000.25])
@pytest.mark.parametrize("rate_hz", [500.0, 3333.3, 44_100.0, 1e6])
def test_every_sample_comes_back_as_it_was(tmp_path: Path, rate_hz: float, t0_s: float) -> None:
    waveform = _waveform(rate_hz, t0_s)
    found = read(_written(waveform, tmp_path))
    assert found.samples == waveform.samples
    # the float64 of a date's seconds resolves a quarter of a microsecond
    assert found.rate_hz == pytest.approx(rate_hz, rel=1e-4 if t0_s > 1e9 else 1e-6)
    assert found.t0_s == pytest.approx(t0_s, abs=1e-6)
    for one, other in zip(found.channels, waveform.channels, strict=True):
        assert (one.name, one.unit) == (other.name, other.unit)
        np.testing.assert_array_equal(one.values, other.values)


def test_other_programs_read_it_too(tmp_path: Path) -> None:
    waveform = _waveform()
    frame = pd.read_csv(_written(waveform, tmp_path))
    assert list(frame.columns) == ["Time [s]", "coil [V]", "clamp [A]"]
    np.testing.assert_array_equal(
        frame["clamp [A]"].to_numpy().astype(np.float32), waveform.channels[1].values
    )


def test_extremes_of_what_a_sample_can_hold() -> None:
    values = np.array([3.4e38, -3.4e38, 1e-45, -0.0, 0.1, 16_777_217, 1 / 3], dtype=np.float32)
    waveform = Waveform(0.0, 10.0, (Channel("clamp", "V", values),))
    text = b"".join(table(waveform, waveform.channels)).decode()
    rows = list(csv.reader(io.StringIO(text, newline="")))
    np.testing.assert_array_equal(np.array([r[1] for r in rows[1:]], dtype=np.float32), values)


def test_gaps_are_empty_and_come_back_as_gaps(tmp_path: Path) -> None:
    waveform = _waveform(samples=3000)
    values = waveform.channels[0].values.copy()
    values[[0, 5, 6, 2999]] = np.nan
    waveform = Waveform(0.0, 1000.0, (Channel("clamp", "V", values), waveform.channels[1]))
    path = _written(waveform, tmp_path)
    assert b"nan" not in path.read_bytes()
    found = read(path)
    np.testing.assert_array_equal(found.channels[0].values, values)


def test_lines_and_cells_are_as_the_standard_has_them() -> None:
    waveform = _waveform(samples=3, names={'clamp, "big"; one': "V", "two\nlines": None})
    text = b"".join(table(waveform, waveform.channels)).decode("utf-8")
    assert text.count("\r\n") == text.count("\n") == 4
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[0] == ["Time [s]", 'clamp, "big"; one [V]', "two lines"]
    assert {len(row) for row in rows} == {3}


@pytest.mark.parametrize("name", ["=1+1", "+A", "-A", "@A", "=HYPERLINK(1)"])
def test_a_name_is_never_a_formula(name: str) -> None:
    waveform = _waveform(samples=3, names={name: None})
    head = b"".join(table(waveform, waveform.channels)).decode().splitlines()[0]
    cell = next(csv.reader([head]))[1]
    assert cell == f"'{name}"


def test_a_stretch_holds_its_ends(tmp_path: Path) -> None:
    waveform = _waveform(1000.0, 2.0)
    found = read(_written(waveform, tmp_path, from_s=3.0, to_s=4.0))
    assert found.t0_s == pytest.approx(3.0)
    assert found.samples == 1001
    np.testing.assert_array_equal(found.channels[0].values, waveform.channels[0].values[1000:2001])


def test_stretches_at_and_over_the_edges() -> None:
    waveform = _waveform(1000.0, 2.0, 1000)
    assert span(waveform, None, None) == (0, 1000)
    assert span(waveform, -1e300, 1e300) == (0, 1000)
    assert span(waveform, 2.0004, 2.0016) == (1, 2)
    for from_s, to_s in ((3.5, None), (None, 1.5), (2.0004, 2.0006)):
        with pytest.raises(EmptyStretchError) as refused:
            table(waveform, waveform.channels, from_s=from_s, to_s=to_s)
        assert says(refused.value, "table_writing.there-no-samples-stretch")


def test_a_long_recording_comes_in_parts() -> None:
    waveform = _waveform(samples=100_000)
    parts = list(table(waveform, waveform.channels))
    assert len(parts) > 10
    assert max(map(len, parts)) < 1 << 20
    assert b"".join(parts).count(b"\r\n") == 100_001


def test_a_sample_reads_like_the_file_it_came_from() -> None:
    values = np.array([0.06, -46.875, 1e-7, 123456.7, 0.0, np.nan, np.inf], dtype=np.float32)
    waveform = Waveform(0.0, 1000.0, (Channel("clamp", "V", values),))
    rows = b"".join(table(waveform, waveform.channels)).decode().splitlines()[1:]
    cells = [row.split(",")[-1] for row in rows]
    assert cells == ["0.06", "-46.875", "1e-07", "123456.7", "0", "", "inf"]
