"""Files read as a person corrected them: text taken apart, channels, rate and start."""

import gzip
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.traces.core.readers import files
from tests.traces.core.readers.test_correction import CORRECTIONS
from tests.wording import named, says
from traces.core.readers import Correction, CorrectionError, ReadError, Recording, read
from traces.core.readers.correction import DECIMALS, DELIMITERS, ChannelCorrection, TextCorrection
from traces.core.readers.inspecting import inspection

pytestmark = pytest.mark.usefixtures("forked_reader")

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def _write(content: str | bytes, name: str = "trace.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return _write


def _values(recording: Recording) -> list[list[float]]:
    return [channel.values.tolist() for channel in recording.channels]


def _names(recording: Recording) -> list[tuple[str, str | None]]:
    return [(channel.name, channel.unit) for channel in recording.channels]


def _said(**text: object) -> Correction:
    return Correction(text=TextCorrection(**text))  # type: ignore[arg-type]


class TestHowATextIsTakenApart:
    def test_a_decimal_comma_that_was_taken_for_a_delimiter(self, write: Write) -> None:
        path = write("1,5\n2,5\n3,25\n4,5\n")
        assert len(read(path).channels) == 2
        assert _values(read(path, correction=_said(decimal=","))) == [[1.5, 2.5, 3.25, 4.5]]

    def test_a_delimiter_that_was_taken_for_a_decimal_comma(self, write: Write) -> None:
        path = write("amps\n1,5\n2,5\n3,25\n4,5\n")
        assert _values(read(path)) == [[1.5, 2.5, 3.25, 4.5]]
        made = read(path, correction=_said(delimiter=","))
        assert _values(made) == [[1, 2, 3, 4], [5, 5, 25, 5]]

    @pytest.mark.parametrize(
        ("delimiter", "decimal"),
        # one sign cannot do both without quotes
        [(d, p) for d in DELIMITERS for p in DECIMALS if d != p],
    )
    def test_every_sign_as_it_is_said(self, write: Write, delimiter: str, decimal: str) -> None:
        rows = [[0.0, 1.5], [0.001, 2.5], [0.002, -3.25]]
        text = "\n".join(
            delimiter.join(f"{cell:.3f}".replace(".", decimal) for cell in row) for row in rows
        )
        made = read(
            write(f"t{delimiter}clamp\n{text}\n"),
            correction=_said(delimiter=delimiter, decimal=decimal, time_unit="s"),
        )
        assert _values(made) == [[1.5, 2.5, -3.25]]
        assert made.rate_hz == 1000.0

    def test_a_point_between_groups_of_digits(self, write: Write) -> None:
        path = write("clamp;coil\n1.250;1\n2.500;2\n3.750;3\n")
        assert _values(read(path))[0] == [1.25, 2.5, 3.75]
        assert _values(read(path, correction=_said(decimal=",")))[0] == [1250, 2500, 3750]

    def test_headings_that_are_figures(self, write: Write) -> None:
        path = write("0;10;20\n0;1.5;2\n1;2.5;3\n2;3.5;4\n")
        assert read(path).samples == 4
        made = read(path, correction=_said(heading_line=1, time_column=1, time_unit="ms"))
        assert _names(made) == [("10", None), ("20", None)]
        assert _values(made) == [[1.5, 2.5, 3.5], [2, 3, 4]]
        assert made.rate_hz == 1000.0

    def test_headings_further_up_with_units_below(self, write: Write) -> None:
        path = write("Made by hand\nTime;clamp;pick-up\ns;V;V\n#\nend of head\n0;1;2\n1;2;3\n")
        made = read(path, correction=_said(heading_line=2))
        assert _names(made) == [("clamp", "V"), ("pick-up", "V")]
        assert made.rate_hz == 1.0

    def test_no_headings_although_some_look_like_it(self, write: Write) -> None:
        path = write("clamp;pick-up\n1;2\n3;4\n")
        assert _names(read(path, correction=_said(heading_line=0))) == [("1", None), ("2", None)]

    def test_rows_that_begin_later(self, write: Write) -> None:
        path = write("clamp;coil\n9;9\n8;8\n1;2\n3;4\n5;6\n")
        made = read(path, correction=_said(first_row_line=4))
        assert _values(made) == [[1, 3, 5], [2, 4, 6]]

    def test_times_in_another_column_and_unit(self, write: Write) -> None:
        path = write("clamp;stamp\n5;0\n6;2\n7;4\n8;6\n")
        assert read(path).rate_hz is None
        made = read(path, correction=_said(time_column=2, time_unit="ms"))
        assert _names(made) == [("clamp", None)]
        assert (made.rate_hz, made.samples) == (500.0, 4)

    def test_a_unit_of_times_that_the_heading_does_not_give(self, write: Write) -> None:
        path = write("Time;clamp\n0;1\n5;2\n10;3\n")
        assert read(path).rate_hz == 0.2
        assert read(path, correction=_said(time_unit="us")).rate_hz == 200_000.0

    def test_a_column_that_is_no_time(self, write: Write) -> None:
        path = write("dwell [ms];clamp\n1;5\n2;6\n3;7\n")
        assert read(path).rate_hz == 1000.0
        made = read(path, rate_hz=50.0, correction=_said(time_column=0))
        assert _names(made) == [("dwell", "ms"), ("clamp", None)]
        assert made.rate_hz == 50.0

    def test_edge_times_that_are_a_signal(self, write: Write) -> None:
        path = write("".join(f"{0.1 * i + 0.001 * (i % 3):.4f}\n" for i in range(40)))
        assert read(path).format == "edge times"
        made = read(path, correction=_said(time_column=0))
        assert (made.format, made.samples) == ("delimited text", 40)

    def test_text_in_an_archive(self, write: Write) -> None:
        path = write(gzip.compress(b"1,5\n2,5\n3,25\n"), "trace.csv.gz")
        assert _values(read(path, correction=_said(decimal=","))) == [[1.5, 2.5, 3.25]]

    @pytest.mark.parametrize(
        ("said", "words"),
        [
            ({"first_row_line": 1}, "Line 1 is no row of numbers"),
            ({"first_row_line": 99}, "There is no line 99"),
            ({"heading_line": 99}, "There is no line 99"),
            ({"heading_line": 4}, "No row of numbers follows the headings in line 4"),
            ({"time_column": 3}, "There is no column 3"),
            ({"delimiter": "|"}, "no rows of numbers|without numbers"),
            ({"time_column": 2}, "no signal beside|do not rise|does not rise|runs backwards"),
        ],
        ids=lambda value: str(value)[:40],
    )
    def test_what_does_not_fit_is_one_sentence(self, write: Write, said: dict, words: str) -> None:
        path = write("clamp;coil\n3;5\n2;4\n1;3\n")
        with pytest.raises(ReadError, match=words):
            read(path, correction=_said(**said))

    def test_a_unit_of_times_without_times(self, write: Write) -> None:
        with pytest.raises(CorrectionError) as refused:
            read(write("clamp;coil\n1;5\n2;4\n"), correction=_said(time_unit="ms"))
        assert says(refused.value, "text_corrected.unit-times-given-no")

    def test_words_cannot_be_times(self, write: Write) -> None:
        rows = "".join(f"{i};1.5;on\n" for i in range(5))
        with pytest.raises(CorrectionError) as refused:
            read(write(f"clamp;coil;state\n{rows}"), correction=_said(time_column=3))
        assert says(refused.value, "text_corrected.column-holds-no-numbers", time_column=3)


class TestChannelsRateAndStart:
    CHANNELS = (
        ChannelCorrection(1, name="clamp", unit="clamp", factor=100.0),
        ChannelCorrection(2, left_out=True),
    )

    @pytest.mark.parametrize("kind", sorted(set(files.MAKERS) - {"Ogg"}))
    def test_every_format(self, tmp_path: Path, kind: str) -> None:
        path = files.written(kind, tmp_path)
        said = Correction(rate_hz=250.0, start_s=-1.5, channels=self.CHANNELS)
        made = read(path, correction=said)
        assert _names(made) == [("clamp", "clamp")]
        assert np.abs(made.channels[0].values - 100.0 * files.A).max() < 0.02
        assert (made.rate_hz, made.t0_s, made.samples) == (250.0, -1.5, files.SAMPLES)
        assert not made.full_scale
        assert made.correction == said
        assert str(made.notes[-1]) == f"Corrected by hand: {said.words}."
        told = inspection(made, file="x")
        assert told["channels"][0]["maximum"] == pytest.approx(100.0 * files.A.max(), rel=1e-3)
        assert len(told["preview"]["channels"]) == 2
        assert told["preview"]["rows"][1]["time_s"] == pytest.approx(-1.5 + 1 / 250.0)

    def test_a_rate_leaves_the_start_of_the_times(self, write: Write) -> None:
        path = write("Time [s];clamp\n2.0;1\n2.5;2\n3.0;3\n")
        made = read(path, correction=Correction(rate_hz=10.0))
        assert (made.rate_hz, made.t0_s, _values(made)) == (10.0, 2.0, [[1, 2, 3]])

    def test_a_rate_leaves_counted_rows_where_they_are_missing(self, write: Write) -> None:
        rows = "".join(f"{i};{i * 2}\n" for i in range(20) if i != 7)
        made = read(write(f"Sample;clamp\n{rows}"), correction=Correction(rate_hz=10.0))
        assert (made.rate_hz, made.samples) == (10.0, 20)
        assert np.isnan(made.channels[0].values[7])

    def test_a_rate_silences_that_there_is_none(self, write: Write) -> None:
        path = write("clamp;coil\n1;5\n2;4\n")
        missing = "The file gives neither times nor a sample rate."
        assert missing in map(str, read(path).notes)
        mended = read(path, correction=Correction(rate_hz=10.0))
        assert missing not in map(str, mended.notes)

    def test_shares_of_full_scale_stay_where_a_channel_has_no_unit(self, tmp_path: Path) -> None:
        path = files.written("WAV", tmp_path)
        said = Correction(channels=(ChannelCorrection(1, unit="V", factor=5.0),))
        assert read(path, correction=said).full_scale

    @pytest.mark.parametrize(
        ("channels", "words"),
        [
            (
                (ChannelCorrection(3, name="cam"),),
                named("correcting.correction-speaks-channel-file", number=3, count=2),
            ),
            (
                (ChannelCorrection(1, name="Clamp"), ChannelCorrection(2, name="clamp")),
                named("correcting.two-channels-would-called", name="clamp"),
            ),
            (
                tuple(ChannelCorrection(n, left_out=True) for n in (1, 2)),
                named("correcting.correction-leaves-every-channel"),
            ),
        ],
        ids=["unknown", "same name", "none left"],
    )
    @pytest.mark.parametrize("kind", ["delimited text", "WAV", "NumPy"])
    def test_channels_that_do_not_fit(self, tmp_path, kind: str, channels, words: str) -> None:
        with pytest.raises(CorrectionError) as refused:
            read(files.written(kind, tmp_path), correction=Correction(channels=channels))
        assert says(refused.value, words)

    @pytest.mark.parametrize("kind", ["WAV", "NumPy", "zipped WAV", "HDF5"])
    def test_what_is_no_text_is_not_taken_apart(self, tmp_path: Path, kind: str) -> None:
        with pytest.raises(CorrectionError) as refused:
            read(files.written(kind, tmp_path), correction=_said(delimiter=";"))
        assert says(refused.value, "correcting.file-no-text-columns")

    def test_figures_too_large_become_gaps(self, tmp_path: Path) -> None:
        said = Correction(channels=(ChannelCorrection(1, factor=1e12),))
        file = io.BytesIO()
        np.savez(file, A=np.array([1e30, 1.0]), B=np.array([1.0, 2.0]))
        path = tmp_path / "large.npz"
        path.write_bytes(file.getvalue())
        first = read(path, correction=said).channels[0].values
        assert np.isnan(first[0])
        assert first[1] == np.float32(1e12)


class TestThePreview:
    def test_of_a_text(self, write: Write) -> None:
        path = write("made; by hand\n\nTime (ms);clamp (V)\n0;1,5\n1;2,5\n2;\n")
        told = inspection(read(path), file="trace.csv")["preview"]
        assert told["channels"] == [{"name": "clamp", "unit": "V"}]
        assert told["rows"] == [
            {"time_s": 0.0, "values": [1.5]},
            {"time_s": 0.001, "values": [2.5]},
            {"time_s": 0.002, "values": [None]},
        ]
        lines = ["made; by hand", "", "Time (ms);clamp (V)", "0;1,5", "1;2,5", "2;"]
        assert told["text"] == {
            "lines": [{"line": i + 1, "text": line} for i, line in enumerate(lines)],
            "delimiter": ";",
            "decimal": ",",
            "heading_line": 3,
            "first_row_line": 4,
            "columns": ["Time (ms)", "clamp (V)"],
            "time_column": 1,
            "time_unit": "ms",
        }

    def test_without_rate_rows_have_no_times(self, write: Write) -> None:
        told = inspection(read(write("clamp;coil\n1;2\n3;4\n")), file="x")["preview"]
        assert told["rows"] == [
            {"time_s": None, "values": [1.0, 2.0]},
            {"time_s": None, "values": [3.0, 4.0]},
        ]
        assert told["text"]["time_column"] is None

    def test_hostile_signs_are_harmless_and_long_lines_cut(self, write: Write) -> None:
        path = write("a\u202e\x1bb\u00a0c\td" + "x" * 500 + "\nclamp;coil\n1;2\n3;4\n")
        lines = inspection(read(path), file="x")["preview"]["text"]["lines"]
        assert lines[0]["text"].startswith("a\ufffd\ufffdb c\tdx")
        assert len(lines[0]["text"]) == 201

    def test_lines_around_a_late_first_row_are_shown_too(self, write: Write) -> None:
        head = "".join(f"remark {i}\n" for i in range(20))
        lines = inspection(read(write(f"{head}clamp;coil\n1;2\n3;4\n")), file="x")["preview"][
            "text"
        ]
        assert [one["line"] for one in lines["lines"]] == [*range(1, 9), *range(20, 24)]
        assert lines["heading_line"] == 21


_CELLS = st.one_of(
    st.floats(-1e6, 1e6).map(lambda x: f"{x:.3f}"),
    st.integers(-9999, 9999).map(str),
    st.integers(0, 9999).map(lambda i: f"{i},5"),
    st.sampled_from(["", "nan", "on", "12:00:01", "3 V", "4 ms", '"', "#", "9.9e37", "1.234"]),
)
_TABLES = st.tuples(
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.lists(st.lists(_CELLS, min_size=1, max_size=4), min_size=1, max_size=12),
    st.sampled_from(
        ["", "Time;clamp\n", "Time,clamp [V],coil\n", "rate: 100 Hz\nA\tB\n", "\n\n", "# a\n"]
    ),
)

_FIGURES = st.integers(-999, 999).map(str)
_EVEN_TABLES = st.integers(2, 4).flatmap(
    lambda width: st.tuples(
        st.sampled_from([",", ";", "\t"]),
        st.lists(st.lists(_FIGURES, min_size=width, max_size=width), min_size=3, max_size=9),
        st.sampled_from(["", "rate: 100 Hz\n", "clamp;coil\n"]),
    )
)
_ONE_PART = st.one_of(
    CORRECTIONS.map(lambda one: Correction(rate_hz=one.rate_hz, channels=one.channels[:2])),
    CORRECTIONS.map(lambda one: Correction(start_s=one.start_s, text=one.text)),
)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None
)
@given(table=_TABLES | _EVEN_TABLES, correction=CORRECTIONS | _ONE_PART)
def test_any_correction_of_any_text_reads_or_refuses(tmp_path, table, correction) -> None:
    delimiter, rows, head = table
    path = tmp_path / "any.csv"
    path.write_text(head + "".join(delimiter.join(row) + "\n" for row in rows))
    try:
        made = read(path, correction=correction)
    except ReadError as error:
        refused = str(error)
    else:
        refused = ""
    if refused:
        assert refused.endswith(".")
        assert "\n" not in refused
        return
    kept = {one.number: one for one in correction.channels if not one.left_out}
    assert len({channel.name.casefold() for channel in made.channels}) == len(made.channels)
    named = {channel.name for channel in made.channels}
    assert {one.name for one in kept.values() if one.name is not None} <= named
    assert made.rate_hz == correction.rate_hz or correction.rate_hz is None
    assert made.t0_s == correction.start_s or correction.start_s is None
    assert inspection(made, file="x")["preview"]["correction"] == (correction.to_json() or None)
