"""Delimited text in its many forms, and what is refused with which sentence."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.wording import says
from traces.core.readers import ReadError, read


@pytest.fixture
def write(tmp_path):
    def _write(text: str | bytes, name: str = "trace.csv", encoding: str = "utf-8"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return _write


ROWS = [(0.0, 0.5, -1.25), (0.001, 0.75, 2.5), (0.002, 1.0, 3.0), (0.003, 1.5, 4.0)]


def _table(
    delimiter: str = ",",
    decimal: str = ".",
    head: str = "Time [s]{d}clamp [V]{d}coil [V]",
    end: str = "\n",
) -> str:
    lines: list[str] = [head.format(d=delimiter)] if head else []
    lines += [delimiter.join(f"{v:g}".replace(".", decimal) for v in row) for row in ROWS]
    return end.join(lines) + end


def _check(recording) -> None:
    assert [c.name for c in recording.channels] == ["clamp", "coil"]
    assert [c.unit for c in recording.channels] == ["V", "V"]
    assert recording.channels[0].values.tolist() == [0.5, 0.75, 1.0, 1.5]
    assert recording.channels[1].values.tolist() == [-1.25, 2.5, 3.0, 4.0]
    assert recording.rate_hz == 1000.0
    assert recording.t0_s == 0.0


@pytest.mark.parametrize(
    ("delimiter", "decimal"),
    [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), (" | ", ".")],
)
def test_delimiters_and_decimals(write, delimiter: str, decimal: str) -> None:
    _check(read(write(_table(delimiter, decimal))))


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(write, encoding: str) -> None:
    _check(read(write("# µs and °\n" + _table(), encoding=encoding)))


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(write, end: str) -> None:
    _check(read(write(_table(end=end))))


def test_blanks_as_delimiter_in_ragged_columns(write) -> None:
    text = "Time  clamp   coil\n(s)   (V)  (V)\n" + "\n".join(
        f"  {t:6.3f}   {a:8.2f} {b:8.2f}" for t, a, b in ROWS
    )
    _check(read(write(text + "\n")))


def test_padded_fields_and_quotes(write) -> None:
    text = '"Time [s]", "clamp [V]", "coil [V]"\n' + "\n".join(
        f'"{t}", "{a}", {b}' for t, a, b in ROWS
    )
    _check(read(write(text + "\n")))


@pytest.mark.parametrize(
    ("unit", "factor"), [("s", 1.0), ("ms", 1e3), ("us", 1e6), ("µs", 1e6), ("ns", 1e9)]
)
def test_units_of_time(write, unit: str, factor: float) -> None:
    text = f"Time ({unit}),clamp (V),coil (V)\n" + "\n".join(
        f"{t * factor:.9g},{a},{b}" for t, a, b in ROWS
    )
    _check(read(write(text + "\n")))


def test_units_row_below_the_names(write) -> None:
    text = "Time,clamp,coil\nms,V,mV\n" + "\n".join(f"{t * 1e3},{a},{b}" for t, a, b in ROWS) + "\n"
    recording = read(write(text))
    assert [c.unit for c in recording.channels] == ["V", "mV"]
    assert recording.rate_hz == 1000.0


@pytest.mark.parametrize(
    ("words", "rate_hz"),
    [
        ("# sample rate: 2500 Hz", 2500.0),
        ("Sample Rate,10 kHz", 10_000.0),
        ("Sampling frequency [Hz]: 48000", 48_000.0),
        ("Sample interval: 0.5 ms", 2000.0),
        ("dt = 2e-6 s", 500_000.0),
        ("Samples per second = 1000", 1000.0),
    ],
)
def test_rate_from_the_words_above_where_there_is_no_time(
    write, words: str, rate_hz: float
) -> None:
    text = words + "\nclamp [V],coil [V]\n" + "\n".join(f"{a},{b}" for _, a, b in ROWS) + "\n"
    recording = read(write(text))
    assert recording.rate_hz == rate_hz
    assert [c.name for c in recording.channels] == ["clamp", "coil"]


def test_no_time_and_no_rate_is_known_not_to_be_known(write) -> None:
    path = write("clamp [V],coil [V]\n" + "\n".join(f"{a},{b}" for _, a, b in ROWS) + "\n")
    recording = read(path)
    assert recording.rate_hz is None
    with pytest.raises(ReadError) as refused:
        _ = recording.waveform
    assert says(refused.value, "recording.file-does-not-say")
    assert read(path, rate_hz=2000).waveform.rate_hz == 2000.0


def test_the_files_own_rate_wins(write) -> None:
    assert read(write(_table()), rate_hz=9.0).rate_hz == 1000.0


def test_no_heading_at_all(write) -> None:
    recording = read(write(_table(head="")))
    # a first column without a name could be anything; it is kept as a signal
    assert len(recording.channels) == 3
    assert recording.rate_hz is None


def test_one_column_of_decimal_commas_is_one_channel(write) -> None:
    recording = read(write("Clamp [V]\n0,5\n0,7\n0,9\n"), rate_hz=100)
    assert [c.name for c in recording.channels] == ["Clamp"]
    assert np.allclose(recording.channels[0].values, [0.5, 0.7, 0.9])


def test_missing_values_stay_gaps(write) -> None:
    text = "Time [s],clamp [V]\n0,1\n1,NaN\n2,\n3,4\n4,inf\n"
    values = read(write(text)).channels[0].values
    assert np.isnan(values).tolist() == [False, True, True, False, True]


def test_words_among_the_numbers_are_left_out_and_counted(write) -> None:
    rows = [f"{i},{i}" for i in range(20)]
    rows[7] = "7,oops"
    recording = read(write("Time [s],clamp [V]\n" + "\n".join(rows) + "\n# end of file\n"))
    assert recording.samples == 20
    assert np.isnan(recording.channels[0].values[7])
    assert any("not numbers" in str(note) for note in recording.notes)


def test_ragged_rows_keep_the_others_in_place(write) -> None:
    text = "Time [s],clamp [V],coil [V]\n0,1,2\n1,3\n2,5,6\n3,7,8,9\n4,9,10\n"
    recording = read(write(text))
    a = recording.waveform.channel("clamp").values
    assert recording.samples == 5
    assert a[[0, 1, 2, 4]].tolist() == [1, 3, 5, 9]
    assert np.isnan(a[3])


def test_rows_that_are_too_long_are_gaps_where_there_are_no_times(write) -> None:
    rows = [f"{i},{i}" for i in range(30)]
    rows[4] = rows[9] = "1,2,3"
    recording = read(write("clamp [V],coil [V]\n" + "\n".join(rows) + "\n"), rate_hz=100)
    # left out, they would move all that follows
    assert recording.samples == 30
    assert np.flatnonzero(np.isnan(recording.channels[0].values)).tolist() == [4, 9]
    assert says(recording.notes, "delimited.fields-rows-were-not", bad=2)


def test_missing_rows_become_gaps_on_the_even_grid(write) -> None:
    rows = [f"{i / 1000:.3f},{i}" for i in range(50) if i not in (20, 21)]
    recording = read(write("Time [s],clamp [V]\n" + "\n".join(rows) + "\n"))
    assert (recording.samples, recording.rate_hz, recording.uniform) == (50, 1000.0, True)
    values = recording.channels[0].values
    assert np.flatnonzero(np.isnan(values)).tolist() == [20, 21]
    assert values[22] == 22
    assert any("missing" in str(note) for note in recording.notes)


def test_stamps_with_few_digits_are_still_even(write) -> None:
    # 3 kHz written to the microsecond: no step is exactly 1/3000
    rows = [f"{i / 3000:.6f},{i % 7}" for i in range(300)]
    recording = read(write("Time [s],clamp [V]\n" + "\n".join(rows) + "\n"))
    assert recording.uniform
    assert recording.rate_hz == pytest.approx(3000.0, rel=1e-5)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("size", [64, 65, 67, 100, 257])
def test_blocks_make_no_difference(
    write, monkeypatch: pytest.MonkeyPatch, end: str, encoding: str, size: int
) -> None:
    lines = [
        "some words",
        "Time [s],clamp [V],coil [V]",
        *(f"{i},{i * i},{-i}" for i in range(100)),
    ]
    lines[60] = lines[60].split(",")[0] + ",,1"
    path = write(end.join(lines) + end, encoding=encoding)
    whole = read(path)
    assert whole.samples == 100
    monkeypatch.setattr("traces.core.readers.text_rows.BLOCK_BYTES", size)
    parts = read(path)
    for one, other in zip(parts.channels, whole.channels, strict=True):
        assert np.array_equal(one.values, other.values, equal_nan=True)
    assert parts.notes == whole.notes


def test_equal_names_stay_apart(write) -> None:
    recording = read(write("Time [s],CH [V],CH [V]\n0,1,2\n1,3,4\n"))
    assert len({c.name for c in recording.channels}) == 2


BAD = {
    "empty": (b"", "empty"),
    "prose": (b"The engine cranks unevenly.\nNothing else was noted.\n", "without numbers"),
    "header only": (b"Time [s],clamp [V]\n", "no rows of numbers"),
    "time only": (b"Time [s]\n0\n1\n2\n", "no signal"),
    "one row": (b"Time [s],clamp [V]\n0,1\n", "only one row"),
    "time stands still": (b"Time [s],clamp [V]\n0,1\n0,2\n0,3\n", "Time does not rise"),
    "time runs back": (b"Time [s],clamp [V]\n0,1\n2,2\n1,3\n", "Time does not rise"),
    "times past all measure": (b"Time [s],clamp [V]\n0,1\n1e30,2\n2e30,3\n", "apart on average"),
    "times that are none": (b"Time [s],clamp [V]\n0,1\n1e-320,2\n2e-320,3\n", "apart on average"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "picture"),
    "photo": (b"\xff\xd8\xff\xe0\x00\x10JFIF\x00", "picture"),
    "document": (b"%PDF-1.7\n1 0 obj\n", "PDF"),
    "archive": (b"PK\x03\x04\x14\x00\x00\x00", "ZIP"),
    "binary": (bytes(range(256)) * 4, "not known"),
}


@pytest.mark.parametrize("kind", sorted(BAD))
def test_bad_files_get_their_sentence(write, kind: str) -> None:
    content, words = BAD[kind]
    with pytest.raises(ReadError, match=words) as raised:
        read(write(content))
    sentence = str(raised.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence


@pytest.mark.parametrize("figure", ["1e300", "-1e300", "1e400", "inf"])
def test_values_that_no_sample_holds_are_gaps(write, figure: str) -> None:
    recording = read(write(f"Time [s],clamp [V]\n0,1\n0.001,{figure}\n0.002,3\n0.003,4\n"))
    assert np.isnan(recording.channels[0].values).tolist() == [False, True, False, False]


@pytest.mark.parametrize(
    "above", ["sample rate: 1e400 Hz", "sample rate: 1e-300 Hz", "dt = 1e-320", "dt = -1"]
)
def test_a_rate_that_is_none_is_not_taken(write, above: str) -> None:
    assert read(write(f"{above}\n\nclamp,coil\n1,2\n2,3\n3,4\n")).rate_hz is None


def test_a_start_that_is_none_is_not_taken(write) -> None:
    recording = read(
        write("start time: 1e400 s\nsample rate: 100 Hz\n\nclamp,coil\n1,2\n2,3\n3,4\n")
    )
    assert (recording.t0_s, recording.rate_hz) == (0.0, 100.0)


def test_names_are_kept_as_they_can_be_shown(write) -> None:
    text = "Time [s],A\x00\x1b[31m [V]," + "coil" * 500 + "\n0,1,2\n0.001,2,3\n0.002,3,4\n"
    names = [c.name for c in read(write(text, encoding="utf-16")).channels]
    assert all(name.isprintable() and len(name) <= 80 for name in names)


def test_more_than_memory_holds_is_refused(write, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write(_table())
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 7)
    with pytest.raises(ReadError) as refused:
        read(path)
    assert says(refused.value, "recording.file-holds-more-samples")
    monkeypatch.setattr("traces.core.readers.recording.MOST_VALUES", 8)
    _check(read(path))


def test_a_file_that_is_not_there(tmp_path) -> None:
    with pytest.raises(ReadError) as refused:
        read(tmp_path / "gone.csv")
    assert says(refused.value, "reading.there-no-file-check")


def test_a_folder_is_no_file(tmp_path) -> None:
    with pytest.raises(ReadError) as refused:
        read(tmp_path)
    assert says(refused.value, "reading.file-cannot-opened-choose")


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
@given(data=st.binary(max_size=400))
def test_any_bytes_read_or_refuse_with_a_sentence(tmp_path, data: bytes) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(data)
    sentence = "."
    try:
        assert read(path, rate_hz=10).samples > 1
    except ReadError as error:
        sentence = str(error)
    assert sentence.endswith(".")


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
@given(
    values=st.lists(
        st.floats(-1e6, 1e6, width=32).filter(lambda v: v == 0 or abs(v) > 1e-6),
        min_size=2,
        max_size=40,
    ),
    form=st.sampled_from([(",", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ".")]),
)
def test_what_is_written_is_read_back(tmp_path, values, form) -> None:
    delimiter, decimal = form
    rows = [f"{i}{delimiter}{v!r}".replace(".", decimal) for i, v in enumerate(values)]
    path = tmp_path / "back.csv"
    path.write_text(f"Time [s]{delimiter}clamp [V]\n" + "\n".join(rows) + "\n")
    found = read(path)
    assert found.rate_hz == 1.0
    assert np.array_equal(found.channels[0].values, np.array(values, dtype=np.float32))
