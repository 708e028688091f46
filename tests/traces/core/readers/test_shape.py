"""The shape of a file: the same for the next export of a logger, another for another layout."""

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.traces.core.readers import files
from traces.core.readers import Correction, ReadError, read
from traces.core.readers.correction import ChannelCorrection, TextCorrection
from traces.core.readers.packed import source_of
from traces.core.readers.shape import shape_of_text

pytestmark = pytest.mark.usefixtures("forked_reader")

HEAD = "Logger: yellow box\nOperator: anna\nRecorded: 2031-05-04 10:11:12\n\n"
TITLES = "Time [ms];clamp [mV];pick-up [V]\n"


def _rows(count: int, seed: int, decimal: str = ".", delimiter: str = ";") -> str:
    rng = np.random.default_rng(seed)
    rows = ([f"{i}", f"{rng.normal():.3f}", f"{rng.normal():.3f}"] for i in range(count))
    return "".join(delimiter.join(row).replace(".", decimal) + "\n" for row in rows)


@pytest.fixture
def shape(tmp_path: Path) -> Callable[[str], str]:
    def _shape(text: str, name: str = "a.csv") -> str:
        path = tmp_path / name
        path.write_text(text)
        return read(path).shape

    return _shape


def test_other_figures_lengths_dates_and_names_are_the_same_shape(shape) -> None:
    other_head = HEAD.replace("anna", "bo").replace("2031-05-04 10", "2032-11-30 23")
    assert shape(HEAD + TITLES + _rows(50, 1)) == shape(other_head + TITLES + _rows(3000, 2), "b")


@pytest.mark.parametrize(
    "text",
    [
        HEAD + TITLES.replace("[mV]", "[V]") + _rows(50, 1),
        HEAD + TITLES.replace("clamp", "current") + _rows(50, 1),
        HEAD + TITLES.replace("[ms]", "[s]") + _rows(50, 1),
        HEAD.replace("Operator", "Vehicle") + TITLES + _rows(50, 1),
        HEAD.replace("Operator: anna\n", "") + TITLES + _rows(50, 1),
        TITLES + _rows(50, 1),
        HEAD + _rows(50, 1),
        HEAD + TITLES + _rows(50, 1, ","),
        HEAD + TITLES.replace(";", "\t") + _rows(50, 1, delimiter="\t"),
        HEAD + "Time [ms];clamp [mV]\n" + "".join(f"{i};{i % 7}\n" for i in range(50)),
    ],
    ids=[
        "unit", "name", "unit of time", "key", "key less", "no head", "no titles", "decimal",
        "delimiter", "columns",
    ],
)  # fmt: skip
def test_another_layout_is_another_shape(shape, text: str) -> None:
    assert shape(text) != shape(HEAD + TITLES + _rows(50, 1), "b.csv")


def test_a_correction_does_not_change_the_shape(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(HEAD + TITLES + _rows(50, 1))
    said = Correction(
        rate_hz=10.0,
        channels=(ChannelCorrection(1, "x", "V"),),
        text=TextCorrection(heading_line=0, time_column=0),
    )
    assert read(path, correction=said).shape == read(path).shape


def test_an_archive_has_the_shape_of_what_is_in_it(tmp_path: Path) -> None:
    text = (HEAD + TITLES + _rows(50, 1)).encode()
    bare, packed = tmp_path / "a.csv", tmp_path / "a.csv.gz"
    bare.write_bytes(text)
    packed.write_bytes(gzip.compress(text))
    assert read(bare).shape == read(packed).shape


def test_a_text_that_cannot_be_read_has_a_shape(tmp_path: Path) -> None:
    shapes = []
    for rows in ("0,5,1,25\n0,6,1,5\n", "0,7,1,25\n0,8,1,75\n0,9,2,5\n"):
        path = tmp_path / "a.csv"
        path.write_text(f"Zeit,clamp\n{rows}")
        with pytest.raises(ReadError):
            read(path)
        shapes.append(shape_of_text(source_of(path, "a.csv", None)))
    assert shapes[0] == shapes[1] != ""


@pytest.mark.parametrize("kind", sorted(files.MAKERS))
def test_every_format_has_one(tmp_path: Path, kind: str) -> None:
    # but for a colleague's case, which may come from any logger
    assert len(read(files.written(kind, tmp_path)).shape) == (0 if kind == "case" else 64)


def test_formats_and_codings_differ(tmp_path: Path) -> None:
    bare = [kind for kind in files.MAKERS if "zipped" not in kind]
    shapes = {read(files.written(kind, tmp_path)).shape for kind in bare}
    assert len(shapes) == len(bare)
    for subtype in ("PCM_16", "PCM_24", "FLOAT"):
        path = tmp_path / f"{subtype}.wav"
        soundfile.write(path, np.zeros((9, 2)), 1000, subtype=subtype)
        shapes.add(read(path).shape)
    # one of the three is the WAV above
    assert len(shapes) == len(bare) + 2


def test_arrays_by_name_and_kind(tmp_path: Path) -> None:
    def saved(**arrays: np.ndarray) -> str:
        path = tmp_path / "a.npz"
        np.savez(path, allow_pickle=False, **arrays)
        return read(path).shape

    floats, short = np.arange(9.0), np.arange(9, dtype=np.float32)
    first = saved(time=floats, A=floats)
    assert saved(time=np.arange(500.0), A=np.ones(500)) == first
    assert len({first, saved(time=floats, B=floats), saved(time=floats, A=short)}) == 3


class TestRecalling:
    def test_what_was_said_of_the_shape_is_read_with(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_text("Time;clamp\n0;1\n1;2\n2;3\n")
        wanted = read(path).shape
        said = Correction(text=TextCorrection(time_unit="ms"))
        recalled = read(path, recall={wanted: said}.get)
        assert (recalled.rate_hz, recalled.correction) == (1000.0, said)
        other = read(path, recall={"other": said}.get)
        assert (other.rate_hz, other.correction) == (1.0, None)

    def test_what_could_not_be_read_without_it(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_text("Zeit,clamp\n0,5,1,25\n0,6,1,5\n0,7,1,75\n")
        wanted = shape_of_text(source_of(path, "a.csv", None))
        said = Correction(text=TextCorrection(delimiter=",", heading_line=0, time_column=2))
        made = read(path, recall={wanted: said}.get)
        assert (len(made.channels), made.rate_hz) == (3, 1.0)

    def test_edge_times_that_were_a_signal(self, tmp_path: Path) -> None:
        path = tmp_path / "a.txt"
        path.write_text("".join(f"{0.1 * i + 0.001 * (i % 3):.4f}\n" for i in range(40)))
        wanted = read(path).shape
        said = Correction(text=TextCorrection(time_column=0))
        made = read(path, recall={wanted: said}.get)
        assert (made.format, made.shape) == ("delimited text", wanted)

    @pytest.mark.parametrize("kind", ["WAV", "NumPy", "HDF5", "zipped WAV"])
    def test_channels_of_any_format(self, tmp_path: Path, kind: str) -> None:
        path = files.written(kind, tmp_path)
        said = Correction(channels=(ChannelCorrection(2, left_out=True),))
        made = read(path, recall={read(path).shape: said}.get)
        assert [channel.name for channel in made.channels] == [read(path).channels[0].name]


def test_a_line_of_blanks_costs_no_more_than_another(shape) -> None:
    """One pattern for blanks, key and blanks took minutes for such a line."""
    blanks = " " * 25_000
    table = TITLES + _rows(50, 1)
    assert shape(f"{blanks}x\n{table}") == shape(f"nothing named\n{table}")
    assert shape(f"{blanks}Vehicle{blanks}: x\n{table}") == shape(f"VEHICLE:y\n{table}")
