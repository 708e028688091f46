"""What headings and the lines above them say: names, units, rate, start."""

import math
import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

Role: TypeAlias = Literal["time", "index", "start", "increment", "signal"]

_TIME_FACTORS = {
    "s": 1.0,
    "sec": 1.0,
    "second": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "millisecond": 1e-3,
    "milliseconds": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "usec": 1e-6,
    "microsecond": 1e-6,
    "microseconds": 1e-6,
    "ns": 1e-9,
    "nanosecond": 1e-9,
    "nanoseconds": 1e-9,
    "min": 60.0,
}
_UNITS = {
    "v": "V",
    "volt": "V",
    "volts": "V",
    "mv": "mV",
    "millivolt": "mV",
    "millivolts": "mV",
    "a": "A",
    "amp": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "ma": "mA",
    "rpm": "rpm",
    "kpa": "kPa",
    "bar": "bar",
    "psi": "psi",
    "deg": "deg",
    "°": "deg",
    "hz": "Hz",
    "ohm": "ohm",
    "%": "%",
    "1": "1",
}
_SAMPLE_WORDS = ("sequence", "sample", "samples", "index", "point", "points")
_TIME_NAMES = re.compile(
    r"(time|t|x|x[- ]?axis|zeit|temps|tiempo|tempo|seconds?|sec|elapsed|time ?stamp)", re.IGNORECASE
)
_INDEX_NAMES = re.compile(
    r"(samples?|index|idx|points?|sequence|seq|n|no\.?|nr\.?|#|row)", re.IGNORECASE
)
_IN_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*$")
_LONGEST_NAME = 80
_LOWEST_HZ, _HIGHEST_HZ = 1e-6, 1e12  # beyond these no instrument samples; the figure is none
_NUMBER = r"([-+]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?)"
_BETWEEN = r"[\s\"“”\[\]():=;,|\t]*"
_SECONDS = r"[munµμ]?s(?:ec(?:onds?)?)?"
_HERTZ = r"[kMG]?(?:Hz|S/s|Sa/s|sps)"
# the unit may stand before the figure ("rate [Hz]: 1000") or after it ("rate: 1 kHz")
_RATE = re.compile(
    r"(?:sampl(?:e|ing)[\s_-]*(?:rate|frequency|freq)"
    r"|samples?[\s_-]*(?:per|/)[\s_-]*s(?:ec(?:ond)?)?|\bfs\b|\brate\b)"
    rf"{_BETWEEN}(?:(?P<early>{_HERTZ}){_BETWEEN})?{_NUMBER}\s*(?P<late>{_HERTZ})?",
    re.IGNORECASE,
)
_INTERVAL = re.compile(
    r"(?:sampl(?:e|ing)[\s_-]*(?:interval|period|time)"
    r"|time[\s_-]*(?:step|interval|increment)|\bdt\b|\bx?[\s_-]*increment)"
    rf"{_BETWEEN}(?:(?P<early>{_SECONDS})\b{_BETWEEN})?{_NUMBER}\s*(?P<late>{_SECONDS}\b)?",
    re.IGNORECASE,
)
_START = re.compile(
    r"(?:start[\s_-]*time|time[\s_-]*of[\s_-]*first[\s_-]*sample|\bt0\b"
    r"|\bx[\s_-]*(?:start|origin|zero))"
    rf"{_BETWEEN}{_NUMBER}\s*(?P<late>{_SECONDS}\b)?(?![\d:.-])",
    re.IGNORECASE,
)
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}  # of hertz: mHz is no sample rate


@dataclass(frozen=True, slots=True)
class ColumnName:
    """One column: its bare name, what it is, its unit.

    `time_factor` turns a time column into seconds; None where no unit was given.
    """

    name: str
    role: Role
    unit: str | None
    time_factor: float | None = None
    unit_known: bool = False


@dataclass(frozen=True, slots=True)
class Preamble:
    """Rate and start as the file's own words give them."""

    rate_hz: float | None = None
    start_s: float | None = None


def read_title(title: str, unit_field: str) -> ColumnName:
    """Understand a heading like "A [V]", "Time (ms)" or "CH1" with "Volt" below it."""
    name, unit_text = _shown(title).strip('"'), _shown(unit_field).strip('"').strip("[]() ")
    inside = _IN_BRACKETS.match(name)
    if inside and not unit_text:
        name, unit_text = inside["name"].strip(), inside["unit"].strip()
    folded = unit_text.casefold()
    if folded in _SAMPLE_WORDS or _INDEX_NAMES.fullmatch(name):
        return ColumnName(name, "index", None, unit_known=folded in _SAMPLE_WORDS)
    if folded in _TIME_FACTORS:
        return ColumnName(name, "time", "s", _TIME_FACTORS[folded], unit_known=True)
    if name.casefold() in ("start", "increment"):
        role: Role = "start" if name.casefold() == "start" else "increment"
        return ColumnName(name, role, None)
    if _TIME_NAMES.fullmatch(name):
        return ColumnName(name, "time", "s")
    unit = _UNITS.get(folded)
    return ColumnName(name, "signal", unit or unit_text or None, unit_known=unit is not None)


def _shown(text: str) -> str:
    """Return a heading as it can be shown, stored and typed: without control characters."""
    plain = "".join(c if c.isprintable() else " " for c in text)
    return plain.strip()[:_LONGEST_NAME].strip()


def read_preamble(lines: list[str], names: list[str], units: list[str], columns: int) -> Preamble:
    """Find sample rate and start in the lines above the headings.

    Some files carry start and step as two more headings whose figures stand in the units
    row, with no column below them.
    """
    rate_hz = start_s = None
    for line in lines:
        rate_hz = rate_hz or _rate_in(line)
        if start_s is None and (found := _START.search(line)):
            start_s = _value(found[1], _TIME_FACTORS.get((found["late"] or "s").casefold(), 1.0))
    for name, figure in zip(names[columns:], units[columns:], strict=False):
        word = name.strip().casefold()
        if word == "start":
            start_s = _value(figure, 1.0)
        elif word == "increment":
            step_s = _positive(_value(figure, 1.0))
            rate_hz = _rate_of(step_s) if step_s else None
    if rate_hz is not None and not _LOWEST_HZ <= rate_hz <= _HIGHEST_HZ:
        rate_hz = None
    return Preamble(rate_hz, start_s)


def _rate_in(line: str) -> float | None:
    if found := _RATE.search(line):
        unit = (found["early"] or found["late"] or "Hz").casefold()
        prefix = unit[0] if unit[0] in "kmg" else ""
        return _positive(_value(found[2], _PREFIX[prefix]))
    if found := _INTERVAL.search(line):
        unit = (found["early"] or found["late"] or "s").casefold()
        step_s = _positive(_value(found[2], _TIME_FACTORS.get(unit, 1.0)))
        return _rate_of(step_s) if step_s else None
    return None


def _rate_of(step_s: float) -> float:
    """Return the rate of a step; 12 digits, so that 5e-6 s is 200000 Hz and not a hair less."""
    return float(f"{1.0 / step_s:.12g}")


def _value(text: str, factor: float) -> float | None:
    try:
        value = float(text.strip().replace(",", ".")) * factor
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _positive(value: float | None) -> float | None:
    return value if value is not None and value > 0 else None
