"""One table in every form that an instrument may write it in, and tables of any kind read back."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.wording import says
from traces.core.readers import ReadError, read
from traces.core.readers.recording import Recording

A = [0.5, 0.75, 1250.25, -1.5, 12.0, 0.125]
B = [-1.25, 2.5, 3.0, 40_000.5, 0.0, -7.0]
RATE_HZ = 1000.0


@pytest.fixture
def write(tmp_path: Path):
    def _write(text: str, encoding: str = "utf-8") -> Path:
        path = tmp_path / "trace.csv"
        path.write_bytes(text.encode(encoding))
        return path

    return _write


def _check(recording: Recording, *, rate_hz: float | None = RATE_HZ, t0_s: float = 0.0) -> None:
    assert [(c.name, c.unit) for c in recording.channels] == [("clamp", "V"), ("coil", "mV")]
    assert recording.channels[0].values.tolist() == A
    assert recording.channels[1].values.tolist() == B
    assert recording.rate_hz == rate_hz
    assert recording.t0_s == pytest.approx(t0_s, abs=1e-12)


def _figure(value: float, decimal: str, thousands: str) -> str:
    whole, _, part = f"{value:.3f}".partition(".")
    digits = whole.lstrip("-")
    groups = f"{int(digits):,}".replace(",", thousands) if thousands else digits
    return f"{'-' if whole.startswith('-') else ''}{groups}{decimal}{part}"


HEADS = {
    "brackets": ["Time [s]{d}clamp [V]{d}coil [mV]"],
    "parentheses": ["Time (s){d}clamp (V){d}coil (mV)"],
    "units row": ["Time{d}clamp{d}coil", "s{d}V{d}mV"],
    "bracketed units row": ["Time{d}clamp{d}coil", "[s]{d}[V]{d}[mV]"],
    "slash": ["t / s{d}clamp / V{d}coil / mV"],
    "words above": [
        "A title of some words",
        "Recorded: 2031-05-04 10:11:12",
        "Operator;somebody, else",
        "",
        "Time [s]{d}clamp [V]{d}coil [mV]",
    ],
    "remarks above": ["# made by hand", "# x = 3, y = 4", "# Time [s]{d}clamp [V]{d}coil [mV]"],
}
DIALECTS = [
    (delimiter, decimal, thousands)
    for delimiter in (",", ";", "\t", "|", " ; ")
    for decimal in (".", ",")
    for thousands in ("", " ", "\u202f", "\u00a0", "'", "," if decimal == "." else ".")
    if delimiter.strip() not in (decimal, thousands)
]


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize(("delimiter", "decimal", "thousands"), DIALECTS)
def test_heads_and_dialects(write, head: str, delimiter: str, decimal: str, thousands: str) -> None:
    lines = [line.replace("{d}", delimiter) for line in HEADS[head]]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        time = f"{i / RATE_HZ:.3f}".replace(".", decimal)
        lines.append(delimiter.join([time, *(_figure(v, decimal, thousands) for v in (a, b))]))
    _check(read(write("\n".join(lines) + "\n")))


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", "\ufeff"),
        ("utf-8", ""),
        ("utf-16-le", "\ufeff"),
        ("utf-16-le", ""),
        ("utf-16-be", "\ufeff"),
        ("utf-16-be", ""),
        ("utf-32-le", "\ufeff"),
        ("latin-1", ""),
    ],
)
def test_encodings_and_line_ends(write, encoding: str, end: str, mark: str) -> None:
    lines = ["Gerät: Prüfstand 3, 20 °C", "Time [µs];clamp [V];coil [mV]"]
    lines += [f"{1000 * i};{a};{b}" for i, (a, b) in enumerate(zip(A, B, strict=True))]
    _check(read(write(mark + end.join(lines) + end, encoding)))


@pytest.mark.parametrize(
    "row",
    [
        "{t},{a},{b},",
        "{t},{a},{b},,",
        " {t} , {a} , {b} ",
        '"{t}","{a}","{b}"',
        '"{t}", "{a}", "{b}"',
        "{t}, {a}, {b}",
        "+{t},{a},{b}",
    ],
)
def test_dressing_of_rows(write, row: str) -> None:
    lines = ["Time [s],clamp [V],coil [mV]"]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        lines.append(row.format(t=f"{i / RATE_HZ:.3f}", a=a, b=b))
    _check(read(write("\n".join(lines) + "\n")))


def test_quoted_decimal_commas_between_commas(write) -> None:
    lines = ["Time [s],clamp [V],coil [mV]"]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        lines.append(",".join(f'"{v}"'.replace(".", ",") for v in (i / RATE_HZ, a, b)))
    _check(read(write("\n".join(lines) + "\n")))


def test_one_comma_for_both_is_refused(write) -> None:
    lines = ["Time [s],clamp [V],coil [mV]"]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        lines.append(",".join(f"{v:.2f}".replace(".", ",") for v in (i / RATE_HZ, a, b)))
    with pytest.raises(ReadError) as refused:
        read(write("\n".join(lines) + "\n"))
    assert says(refused.value, "text_layout.comma-parts-columns-decimal")


@pytest.mark.parametrize("blank", [" ", ""])
@pytest.mark.parametrize("decimal", [".", ","])
def test_units_in_the_cells(write, blank: str, decimal: str) -> None:
    lines = ["Time;clamp;coil"]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        time = f"{1000 * i}{blank}us" if i % 2 else f"{i}{blank}ms"
        volts = f"{1000 * a:g}{blank}mV" if i % 2 else f"{a}{blank}V"
        lines.append(f"{time};{volts};{b}".replace(".", decimal))
    recording = read(write("\n".join(lines) + "\n"))
    assert recording.rate_hz == RATE_HZ
    assert [(c.name, c.unit) for c in recording.channels] == [("clamp", "V"), ("coil", None)]
    assert np.allclose(recording.channels[0].values, A)
    assert recording.channels[1].values.tolist() == B


@pytest.mark.parametrize(
    ("first", "step_s", "form"),
    [
        ("23:59:59.998", 0.001, "{h:02d}:{m:02d}:{s:06.3f}"),
        ("2031-02-28 08:00:00", 0.5, "2031-02-28 {h:02d}:{m:02d}:{s:04.1f}"),
        ("7:00:00,25", 0.25, "{h}:{m:02d}:{s:05.2f}"),
    ],
)
def test_times_of_day_count_on_over_midnight(write, first: str, step_s: float, form: str) -> None:
    h, m, s = first.rsplit(maxsplit=1)[-1].replace(",", ".").split(":")
    start_s = 3600 * int(h) + 60 * int(m) + float(s)
    lines = ["Clock;clamp"]
    for i in range(8):
        at = (start_s + i * step_s) % 86_400
        cell = form.format(h=int(at // 3600), m=int(at % 3600 // 60), s=at % 60)
        lines.append(f"{cell.replace('.', ',') if ',' in first else cell};{i}")
    recording = read(write("\n".join(lines) + "\n"))
    assert recording.rate_hz == pytest.approx(1 / step_s)
    assert recording.t0_s == pytest.approx(start_s)
    assert recording.channels[0].values.tolist() == list(range(8))


@pytest.mark.parametrize(
    ("above", "rate_hz", "t0_s"),
    [
        (["Increment: 0.001 s", "Start: -0.5 s"], 1000.0, -0.5),
        (["Sample rate: 10,000 Hz"], 10_000.0, 0.0),
        (["Sample rate;1 000 000 S/s"], 1e6, 0.0),
        (["X increment = 1E-6", "Y increment = 0.04"], 1e6, 0.0),
        (["Y increment = 0.04", "X increment = 1E-6"], 1e6, 0.0),
        (["Baud rate: 9600", "Sampling rate: 5 kHz"], 5000.0, 0.0),
        (["Baud rate: 9600"], None, 0.0),
    ],
)
@pytest.mark.parametrize("column", ["index", "Sample", "n", "", None])
def test_rows_counted_and_start_and_step_above(write, above, rate_hz, t0_s, column) -> None:
    lines = [*above, ";".join([*([] if column is None else [column]), "clamp [V]", "coil [mV]"])]
    for i, (a, b) in enumerate(zip(A, B, strict=True)):
        lines.append(";".join([*([] if column is None else [str(i)]), str(a), str(b)]))
    _check(read(write("\n".join(lines) + "\n")), rate_hz=rate_hz, t0_s=t0_s)


def test_a_missing_number_of_a_counted_row_is_a_gap(write) -> None:
    rows = [f"{i},{i}" for i in range(10) if i != 4]
    recording = read(write("Index,clamp [V]\n" + "\n".join(rows) + "\n"), rate_hz=100)
    assert np.flatnonzero(np.isnan(recording.channels[0].values)).tolist() == [4]


@pytest.mark.parametrize(("unit", "factor"), [("ms", 1e3), ("us", 1e6), ("ns", 1e9), ("s", 1)])
def test_the_stated_rate_tells_the_unit_of_time(write, unit: str, factor: float) -> None:
    lines = ["Sample rate: 1 kHz", "Time,clamp [V],coil [mV]"]
    lines += [
        f"{i / RATE_HZ * factor:g},{a},{b}" for i, (a, b) in enumerate(zip(A, B, strict=True))
    ]
    recording = read(write("\n".join(lines) + "\n"))
    _check(recording)
    assert any(f"read as {unit}" in str(note) for note in recording.notes)


def test_a_stated_rate_that_is_another_is_told(write) -> None:
    text = "Sample rate: 2 kHz\nTime [ms],clamp [V]\n" + "\n".join(f"{i},{i}" for i in range(9))
    recording = read(write(text + "\n"))
    assert recording.rate_hz == 1000.0
    assert any("2000 Hz" in str(note) and "1000 Hz" in str(note) for note in recording.notes)


def test_a_signal_in_units_of_time_is_no_clock(write) -> None:
    rows = "\n".join(f"{i},{i % 3 + 1.5},{i * 2}" for i in range(9))
    recording = read(write("Time [ms],Dwell [ms],clamp [V]\n" + rows + "\n"))
    assert [(c.name, c.unit) for c in recording.channels] == [("Dwell", "ms"), ("clamp", "V")]
    assert recording.channels[0].values[:3].tolist() == [1.5, 2.5, 3.5]


def test_time_may_stand_in_another_column(write) -> None:
    rows = "\n".join(f"{i * 2},{i}" for i in range(9))
    recording = read(write("clamp [V],Time [ms]\n" + rows + "\n"))
    assert [c.name for c in recording.channels] == ["clamp"]
    assert recording.rate_hz == 1000.0


def test_columns_of_words_are_left_out_and_named(write) -> None:
    rows = "\n".join(f"{i},{i},ok,{i * 2}" for i in range(9))
    recording = read(write("Time [ms],clamp,State,coil\n" + rows + "\n"))
    assert [c.name for c in recording.channels] == ["clamp", "coil"]
    assert any("“State” holds words" in str(note) for note in recording.notes)


@pytest.mark.parametrize(
    "mark",
    ["OL", "-OL", "OVER", "overflow", "inf", "-inf", "***", "####", ">10", "9.9E37", "9.91E+37"],
)
def test_marks_of_overflow_are_gaps(write, mark: str) -> None:
    rows = [f"{i},{i}" for i in range(10)]
    rows[3] = f"3,{mark}"
    recording = read(write("Time [ms],clamp [V]\n" + "\n".join(rows) + "\n"))
    assert np.flatnonzero(np.isnan(recording.channels[0].values)).tolist() == [3]
    assert recording.samples == 10


@pytest.mark.parametrize("gap", ["", "NaN", "nan", "N/A", "-", "null", " "])
@pytest.mark.parametrize("timed", [True, False])
def test_gaps_stay_where_they_are(write, gap: str, timed: bool) -> None:
    rows = [f"{i},{i},{2 * i}" for i in range(20)]
    rows[3], rows[7] = f"3,{gap},6", f"7,{gap},{gap}"
    text = "\n".join(row if timed else row.partition(",")[2] for row in rows)
    recording = read(
        write(("Time [s],clamp,coil\n" if timed else "clamp,coil\n") + text + "\n"), rate_hz=1
    )
    a, b = (channel.values for channel in recording.channels)
    assert recording.samples == 20
    assert np.flatnonzero(np.isnan(a)).tolist() == [3, 7]
    assert np.flatnonzero(np.isnan(b)).tolist() == [7]
    assert b[3] == 6


def test_a_short_row_and_a_long_one_do_not_make_up_for_each_other(write) -> None:
    rows = [f"{i},{i},{2 * i}" for i in range(20)]
    rows[5], rows[9] = "5,5", "9,9,18,1"
    recording = read(write("Time [s],clamp,coil\n" + "\n".join(rows) + "\n"))
    a, b = (channel.values for channel in recording.channels)
    assert (a[5], np.isnan(b[5])) == (5, True)
    assert np.isnan(a[9])
    assert recording.samples == 20


def test_commas_that_may_be_groups_are_told(write) -> None:
    rows = "\n".join(f"{i};1,{100 + i}" for i in range(9))
    recording = read(write("Time [s];clamp\n" + rows + "\n"))
    assert recording.channels[0].values[0] == pytest.approx(1.1)
    assert any(says(note, "text_layout.commas-read-decimal-signs") for note in recording.notes)


def test_a_remark_above_numbers_is_no_heading(write) -> None:
    rows = "\n".join(f"{i},{i * 2}" for i in range(9))
    recording = read(write("Points,1000\n" + rows + "\n"), rate_hz=10)
    assert [c.name for c in recording.channels] == ["1", "2"]


def test_a_line_without_end_is_refused_and_not_held(write, monkeypatch) -> None:
    monkeypatch.setattr("traces.core.readers.text_rows.BLOCK_BYTES", 4096)
    text = "Time [s],clamp [V]\n" + "\n".join(f"{i},{i}" for i in range(9000)) + "\n"
    with pytest.raises(ReadError) as refused:
        read(write(text + "1" * 9000))
    assert says(refused.value, "text_rows.rows-numbers-cannot-told")


@dataclass(frozen=True)
class Form:
    """A random way to write a table."""

    delimiter: str
    decimal: str
    thousands: str
    encoding: str
    end: str
    head: str
    trailing: str
    gap: str


@st.composite
def forms(draw) -> Form:
    delimiter = draw(st.sampled_from([",", ";", "\t", "|"]))
    decimal = draw(st.sampled_from([".", ","] if delimiter != "," else ["."]))
    groups = [sign for sign in ("", " ", "'", "\u202f") if sign != delimiter]
    return Form(
        delimiter,
        decimal,
        draw(st.sampled_from(groups)),
        draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])),
        draw(st.sampled_from(["\n", "\r\n", "\r"])),
        draw(st.sampled_from(sorted(HEADS))),
        draw(st.sampled_from(["", "d"])),
        draw(st.sampled_from(["", "nan", "NaN", "OL"])),
    )


_values = st.one_of(
    st.floats(-1e6, 1e6, width=32).filter(lambda v: v == 0 or abs(v) > 1e-3),
    st.integers(-5_000_000, 5_000_000).map(float),
    st.just(float("nan")),
)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
@given(
    form=forms(),
    rows=st.lists(st.tuples(_values, _values), min_size=6, max_size=40),
    block=st.sampled_from([256, 1 << 20]),
)
def test_a_random_table_in_a_random_form_comes_back_equal(tmp_path, form, rows, block) -> None:
    def written(value: float):
        if np.isnan(value):
            return form.gap
        whole, _, part = f"{value:.9f}".partition(".")
        digits = f"{int(whole.lstrip('-')):,}".replace(",", form.thousands)
        sign = "-" if whole.startswith("-") else ""
        return f"{sign}{digits}{form.decimal}{part}"

    lines = [line.replace("{d}", form.delimiter) for line in HEADS[form.head]]
    for i, row in enumerate(rows):
        cells = [f"{i}{form.decimal}0", *(written(v) for v in row)]
        lines.append(form.delimiter.join(cells) + form.trailing.replace("d", form.delimiter))
    path = tmp_path / "random.csv"
    path.write_bytes((form.end.join(lines) + form.end).encode(form.encoding))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("traces.core.readers.text_rows.BLOCK_BYTES", block)
        found = read(path)
    assert [(c.name, c.unit) for c in found.channels] == [("clamp", "V"), ("coil", "mV")]
    assert (found.rate_hz, found.samples) == (1.0, len(rows))
    wanted = np.array(rows, dtype=np.float32).T
    for channel, values in zip(found.channels, wanted, strict=True):
        assert np.allclose(channel.values, values, rtol=1e-6, atol=1e-9, equal_nan=True)


@pytest.mark.parametrize("end", ["", ","])
def test_a_named_column_is_a_channel_even_where_it_is_empty_or_begins_late(tmp_path, end) -> None:
    path = tmp_path / "late.csv"
    rows = [f"{i}.0,{i % 7}.5,{'' if i < 1500 else f'{i}.25'},{end}" for i in range(2000)]
    path.write_text(
        "\n".join([f"Time,clamp,coil,battery{end}", f"[s],[V],[mV],[V]{end}", *rows, ""])
    )
    found = read(path)
    assert [(c.name, c.unit) for c in found.channels] == [
        ("clamp", "V"),
        ("coil", "mV"),
        ("battery", "V"),
    ]
    late = found.channels[1].values
    assert np.isnan(late[:1500]).all()
    assert late[1500] == 1500.25
    assert late[1999] == 1999.25
    assert np.isnan(found.channels[2].values).all()
