"""One recording in the ways instruments write text: names, units, rate and values come back."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from traces.core.readers import ReadError, read

ROWS, RATE_HZ, FROM_S = 120, 1000.0, 0.25
TIMES_S = FROM_S + np.arange(ROWS) / RATE_HZ
CLAMP = np.round(0.4 + 0.3 * np.sin(50 * TIMES_S), 4)
GATE = (np.arange(ROWS) % 40 < 7).astype(float)
NAMES = ("Time", "Clamp", "Gate")
PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6}

Write = Callable[[str], Path]


@dataclass(frozen=True)
class Style:
    """How the recording is written."""

    delimiter: str = ","
    decimal: str = "."
    above: tuple[str, ...] = ()
    names: bool = True
    first: str = NAMES[0]
    units: tuple[str, ...] | None = None
    inline: bool = False
    quotes: bool = False
    closing: bool = False
    line_end: str = "\n"
    mark: str = ""
    time_unit: str = "s"
    in_cells: bool = False
    below: str = ""

    def text(self) -> str:
        lines = list(self.above)
        titles = (self.first, *NAMES[1:])
        if self.inline and self.units:
            pairs = zip(titles, self.units, strict=True)
            lines.append(self._row([f"{name} {unit}".strip() for name, unit in pairs]))
        elif self.names:
            lines.append(self._row(titles))
            if self.units is not None:
                lines.append(self._row(self.units))
        unit = f" {self.time_unit}" if self.in_cells else ""
        for time_s, clamp, gate in zip(TIMES_S, CLAMP, GATE, strict=True):
            time = f"{time_s * PER_SECOND[self.time_unit]:.5f}{unit}"
            cells = (time.replace(".", self.decimal), f"{clamp:.4f}".replace(".", self.decimal))
            lines.append(self.delimiter.join((*cells, f"{gate:.0f}")) + self._closing)
        return self.mark + self.line_end.join(lines) + self.line_end + self.below

    @property
    def _closing(self) -> str:
        return self.delimiter if self.closing else ""

    def _row(self, cells: Sequence[str]) -> str:
        quoted = [f'"{cell}"' for cell in cells] if self.quotes else cells
        return self.delimiter.join(quoted) + self._closing


@pytest.fixture(scope="module")
def write(tmp_path_factory) -> Write:
    path: Path = tmp_path_factory.mktemp("texts") / "crank.csv"

    def written(text: str) -> Path:
        path.write_bytes(text.encode())
        return path

    return written


def _assert_read(write: Write, style: Style, unit: str | None = "V", rows: int = ROWS) -> None:
    recording = read(write(style.text()))
    assert [c.name for c in recording.channels] == ["Clamp", "Gate"]
    assert recording.channels[0].unit == unit
    assert recording.rate_hz == pytest.approx(RATE_HZ, rel=1e-6)
    assert recording.t0_s == pytest.approx(FROM_S, abs=1e-6)
    assert recording.samples == rows
    assert np.abs(recording.channels[0].values[:ROWS] - CLAMP).max() < 1e-6
    assert recording.channels[1].values[:ROWS].tolist() == GATE.tolist()


SIGNS = [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", ".")]
UNITS = [
    ("s", "V", ""), ("(s)", "(V)", ""), ("s", "V", "bool"), ("[s]", "[V]", "[]"),
    ("s", "V", "-"), ("s", "V", "–"), ("(s)", "(V)", "()"), ("s", "V", "furlong"),
    ("[s]", "[V]", "[-]"), ("s", "V", "n/a"), ("", "V", ""), ("s", "V", "1"),
    ("Second", "Volt", "logic level"), ("S", "V", "X"), ("s", "V", "t"), ("{s}", "{V}", "{}"),
    ("<s>", "<V>", "<->"), ("sec", "Volts", "On/Off"), ("s", "V", "#"), ("s", "V", "km/h"),
]  # fmt: skip


@settings(
    max_examples=50,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    signs=st.sampled_from(SIGNS),
    units=st.sampled_from(UNITS),
    quotes=st.booleans(),
    closing=st.booleans(),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    mark=st.sampled_from(["", "\ufeff"]),
    above=st.integers(0, 5),
)
def test_a_row_of_units_costs_neither_names_nor_times(
    write: Write, signs, units, above: int, **how
) -> None:
    delimiter, decimal = signs
    remarks = tuple(f"Remark {i}: something" for i in range(above))
    _assert_read(write, Style(delimiter, decimal, remarks, units=units, **how))


@pytest.mark.parametrize(("delimiter", "decimal"), SIGNS)
@pytest.mark.parametrize("units", [("(s)", "(V)", ""), ("[s]", "[V]", "[]"), ("(s)", "(V)", "(-)")])
def test_units_may_stand_beside_the_names(write: Write, delimiter, decimal, units) -> None:
    _assert_read(write, Style(delimiter, decimal, units=units, inline=True))


@pytest.mark.parametrize(("delimiter", "decimal"), SIGNS)
@pytest.mark.parametrize("unit", sorted(PER_SECOND))
@pytest.mark.parametrize("first", ["Time", "Zeitpunkt", ""])
def test_each_time_may_carry_its_unit(write: Write, delimiter, decimal, unit, first) -> None:
    style = Style(delimiter, decimal, first=first, time_unit=unit, in_cells=True)
    _assert_read(write, style, unit=None)


def test_a_first_column_of_durations_that_do_not_rise_is_no_time(write: Write) -> None:
    rows = "\n".join(f"{2 + i % 3} ms,{i}" for i in range(40))
    recording = read(write("Dwell,Count\n" + rows + "\n"), rate_hz=100)
    assert [(c.name, c.unit) for c in recording.channels] == [("Dwell", "s"), ("Count", None)]
    assert recording.rate_hz == 100


@pytest.mark.parametrize(("delimiter", "decimal"), SIGNS)
def test_every_cell_may_carry_its_unit_and_a_dash_for_none(
    write: Write, delimiter, decimal
) -> None:
    lines = [delimiter.join(NAMES)]
    for time_s, clamp, gate in zip(TIMES_S, CLAMP, GATE, strict=True):
        cells = (f"{1000 * time_s:.2f} ms", f"{1000 * clamp:.1f} mV", f"{gate:.0f} -")
        lines.append(delimiter.join(cell.replace(".", decimal) for cell in cells))
    recording = read(write("\n".join(lines) + "\n"))
    assert [(c.name, c.unit) for c in recording.channels] == [("Clamp", "V"), ("Gate", None)]
    assert recording.rate_hz == RATE_HZ
    assert recording.channels[0].values == pytest.approx(CLAMP, abs=1e-6)
    assert recording.channels[1].values.tolist() == GATE.tolist()


@pytest.mark.parametrize(
    ("line", "time_unit", "unit"),
    [
        ("# Units: s, V, -", "s", "V"),
        ("Units;s;V;-", "s", "V"),
        ("Units: V, -", "s", "V"),
        ("Time unit: ms", "ms", None),
        ("Horizontal Units,us", "us", None),
        ("# time in ms", "ms", None),
        ("Vertical units: V", "s", "V"),
        ("# units ms V -", "ms", "V"),
        ("HUNIT=ms", "ms", None),
        ("TimeUnit=us", "us", None),
        ("Unit of time: ms", "ms", None),
        ("Unit X: us", "us", None),
        ("time axis: ms", "ms", None),
        ("All times in ms", "ms", None),
        ("Times are given in us", "us", None),
        ('"Timestamp unit","us"', "us", None),
        ("Time stamps (ms)", "ms", None),
        ("Time [ms], signals [V]", "ms", None),
    ],
)
def test_a_line_above_may_give_the_units(write: Write, line, time_unit, unit) -> None:
    _assert_read(write, Style(";", above=(line,), time_unit=time_unit), unit=unit)


@pytest.mark.parametrize("line", ["Trigger time (us): 5", "Dead time [ms]: 20", "Time (ms): 20"])
def test_a_figure_above_gives_the_time_column_no_unit(write: Write, line) -> None:
    _assert_read(write, Style(";", above=(line,)), unit=None)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize(
    "below",
    [
        *("0.3", "0.3{}0.4", "End of data", "1{}2\n", "Rows{}120{}\n", "-----\n", "# end\n"),
        "\x1a",
    ],
)
def test_a_stray_last_row_costs_itself(write: Write, delimiter, below) -> None:
    style = Style(delimiter, units=("s", "V", ""), below=below.format(*[delimiter] * 2))
    _assert_read(write, style)


def test_a_last_row_whose_time_fits_is_kept(write: Write) -> None:
    style = Style(units=("s", "V", ""), below="0.37000\n")
    _assert_read(write, style, rows=ROWS + 1)


@pytest.mark.parametrize(
    ("rate_hz", "digits", "rows"),
    [(10_000, 3, 900), (48_000, 4, 3000), (5000, 3, 2000), (3000, 3, 2000)],
)
@pytest.mark.parametrize("rounding", [np.round, np.floor])
def test_rounded_times_give_the_rate_of_the_line_through_them(
    write: Write, rate_hz, digits, rows, rounding
) -> None:
    scaled = np.arange(rows) / rate_hz * 10**digits
    times = [f"{t / 10**digits:.{digits}f}" for t in rounding(scaled + 1e-9)]
    lines = [f"{time},{i % 7}" for i, time in enumerate(times)]
    recording = read(write("Time (s),clamp (V)\n" + "\n".join(lines) + "\n"))
    assert recording.samples == rows
    assert recording.rate_hz == pytest.approx(rate_hz, rel=2e-3)


STAMPS = {
    "3 digits": lambda t: f"{t:.3g}",
    "4 digits": lambda t: f"{t:.4g}",
    "exponent": lambda t: f"{t:.3E}",
    "32 bits": lambda t: repr(float(np.float32(t))),
    "hundredths": lambda t: f"{t:.2f}",
    "hundredths cut": lambda t: f"{np.floor(100 * t + 1e-9) / 100:.2f}",
    "thousandths cut": lambda t: f"{np.floor(1000 * t + 1e-9) / 1000:.3f}",
}


@pytest.mark.parametrize(
    ("rate_hz", "from_s"),
    [
        *((500, from_s) for from_s in (0.0, 1234.5)),
        *((900, from_s) for from_s in (-0.5, 37.25)),
        *((2000, from_s) for from_s in (0.0, 37.25)),
        *((4800, from_s) for from_s in (-0.5, 1234.5)),
        *((10_000, from_s) for from_s in (0.0, -0.5, 1234.5)),
    ],
)
@pytest.mark.parametrize("stamp", STAMPS)
def test_times_of_few_digits_cost_no_row_or_are_refused(
    write: Write, stamp, rate_hz, from_s
) -> None:
    """Rows lost where their times are alike, with a rate that is the stamps', went unnoticed."""
    rows = 2000
    times = [STAMPS[stamp](from_s + i / rate_hz) for i in range(rows)]
    signal = np.round(np.sin(0.05 * np.arange(rows)), 4)
    lines = [f"{time},{value:.4f}" for time, value in zip(times, signal, strict=True)]
    path = write("Time (s),clamp (V)\n" + "\n".join(lines) + "\n")
    stamps = len(set(times))
    if stamps < 20:
        with pytest.raises(ReadError, match=r"have the time of|does not rise"):
            read(path)
        return
    recording = read(path)
    assert recording.samples == rows
    assert recording.rate_hz == pytest.approx(rate_hz, rel=2e-3 if stamps > 200 else 1e-2)
    assert np.abs(recording.channels[0].values - signal).max() < 1e-4


@pytest.mark.parametrize("missing", [[700], [3], [1996], [200, 900, 1500]])
def test_rows_that_are_missing_are_still_seen(write: Write, missing) -> None:
    lines = [f"{i / 1000:.3f},{(7 * i) % 100}" for i in range(2000) if i not in missing]
    recording = read(write("Time (s),clamp (V)\n" + "\n".join(lines) + "\n"))
    assert recording.rate_hz == RATE_HZ
    assert np.flatnonzero(np.isnan(recording.channels[0].values)).tolist() == missing


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_without_headings_a_first_column_that_rises_is_time(write: Write, delimiter) -> None:
    lines = [f"{t:.4f}{delimiter}{a:.4f}" for t, a in zip(TIMES_S, CLAMP, strict=True)]
    recording = read(write("\n".join(lines) + "\n"))
    assert [c.name for c in recording.channels] == ["1"]
    assert (recording.rate_hz, recording.samples) == (RATE_HZ, ROWS)
