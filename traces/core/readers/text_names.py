"""What headings and the lines above them say: names, units, rate, start."""

import math
import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

from traces.core.readers.text_units import NO_UNIT, TIME_FACTORS, UNITS

Role: TypeAlias = Literal["time", "index", "start", "increment", "signal"]

_SAMPLE_WORDS = ("sequence", "sample", "samples", "index", "point", "points")
_TIME_WORD = (
    r"(?:time|t|x|x[- ]?axis|zeit|temps|tiempo|tempo|elapsed|time ?stamps?|clock|uhrzeit|heure|hora"
    r"|(?:elapsed|relative|rel\.?|total|run|recording)[ _-]?time)"
)
_TIME_NAMES = re.compile(rf"(?:{_TIME_WORD}|seconds?|sec)", re.IGNORECASE)
_TIME_AND_UNIT = re.compile(
    rf"(?P<name>{_TIME_WORD})(?:\s+in\s+|[\s_/,-]+)(?P<unit>\w+)", re.IGNORECASE
)
_NAME_AND_UNIT = re.compile(r"(?P<name>.*\S)(?:\s*/\s*|\s+in\s+|\s*,\s+)(?P<unit>[^\s/]+)")
_INDEX_NAMES = re.compile(
    r"(samples?|index|idx|points?|sequence|seq|n|no\.?|nr\.?|#|row)", re.IGNORECASE
)
_IN_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[({<](?P<unit>[^\])}>]*)[\])}>]\s*$")
_LONGEST_NAME = 80
_LOWEST_HZ, _HIGHEST_HZ = 1e-6, 1e12  # beyond these no instrument samples; the figure is none
_GROUPS = r"[1-9]\d{0,2}(?:[ ,'\u00a0\u2009\u202f]\d{3})+(?:\.\d+)?(?![\d.,])"
_NUMBER = rf"([-+]?(?:{_GROUPS}|\d+[.,]?\d*|[.,]\d+)(?:[eE][-+]?\d+)?)"
_BETWEEN = r"[\s\"“”\[\]():=;,|\t]*"
_SECONDS = r"[munµμ]?s(?:ec(?:onds?)?)?"
_HERTZ = r"[kMG]?(?:Hz|S/s|Sa/s|sps)"
# the unit may stand before the figure ("rate [Hz]: 1000") or after it ("rate: 1 kHz")
_RATE = re.compile(
    r"(?:sampl(?:e|ing)[\s_-]*(?:rate|frequency|freq)"
    r"|samples?[\s_-]*(?:per|/)[\s_-]*s(?:ec(?:ond)?)?|\bfs\b"
    r"|(?<!baud )(?<!bit )(?<!frame )(?<!refresh )\brate\b)"
    rf"{_BETWEEN}(?:(?P<early>{_HERTZ}){_BETWEEN})?{_NUMBER}\s*(?P<late>{_HERTZ})?",
    re.IGNORECASE,
)
_INTERVAL = re.compile(
    r"(?:sampl(?:e|ing)[\s_-]*(?:interval|period|time)"
    r"|time[\s_-]*(?:step|interval|increment)|\bdt\b"
    r"|(?<!y[ -])(?<!vertical )(?<!voltage )\b(?:x[\s_-]*)?increment)"
    rf"{_BETWEEN}(?:(?P<early>{_SECONDS})\b{_BETWEEN})?{_NUMBER}\s*(?P<late>{_SECONDS}\b)?",
    re.IGNORECASE,
)
_START = re.compile(
    r"(?:start[\s_-]*time|time[\s_-]*of[\s_-]*first[\s_-]*sample|\bt0\b"
    r"|\bx[\s_-]*(?:start|origin|zero)|^[\s#%\"]*start)"
    rf"{_BETWEEN}{_NUMBER}\s*(?P<late>{_SECONDS}\b)?(?![\d:.-])",
    re.IGNORECASE,
)
_PREFIX = {"": 1.0, "k": 1e3, "m": 1e6, "g": 1e9}  # of hertz: mHz is no sample rate


@dataclass(frozen=True, slots=True)
class ColumnName:
    """One column: its bare name, what it is, its unit.

    `time_factor` turns a time column into seconds; None where no unit was given. A column in a
    unit of time that is not named like one (`named_time`) may be a signal: a dwell in ms.
    """

    name: str
    role: Role
    unit: str | None
    time_factor: float | None = None
    unit_known: bool = False
    named_time: bool = False
    written_unit: str | None = None
    cells: Literal["number", "unit", "clock"] = "number"
    """What stands in the column's cells: bare numbers, numbers with a unit, times of day."""


@dataclass(frozen=True, slots=True)
class Preamble:
    """Rate and start as the file's own words give them."""

    rate_hz: float | None = None
    start_s: float | None = None


def read_title(title: str, unit_field: str) -> ColumnName:
    """Understand a heading like "A [V]", "Time (ms)" or "CH1" with "Volt" below it."""
    name, unit_text = _shown(title).strip('"'), _shown(unit_field).strip('"').strip("[](){}<> ")
    if unit_text.casefold() in NO_UNIT:
        unit_text = ""
    if not unit_text:
        name, unit_text = _parted(name)
    if unit_text.casefold() in NO_UNIT:
        unit_text = ""
    folded = unit_text.casefold()
    if folded in _SAMPLE_WORDS or _INDEX_NAMES.fullmatch(name):
        return ColumnName(name, "index", None, unit_known=folded in _SAMPLE_WORDS)
    if folded in TIME_FACTORS:
        return ColumnName(
            name,
            "time",
            "s",
            TIME_FACTORS[folded],
            unit_known=True,
            named_time=not name or _TIME_NAMES.fullmatch(name) is not None,
            written_unit=unit_text,
        )
    if name.casefold() in ("start", "increment"):
        role: Role = "start" if name.casefold() == "start" else "increment"
        return ColumnName(name, role, None)
    if _TIME_NAMES.fullmatch(name):
        return ColumnName(name, "time", "s", named_time=True, written_unit=unit_text or None)
    unit = UNITS.get(folded)
    return ColumnName(name, "signal", unit or unit_text or None, unit_known=unit is not None)


def is_time_name(name: str) -> bool:
    """Return whether a heading says that times stand below it."""
    return _TIME_NAMES.fullmatch(name) is not None


def _parted(name: str) -> tuple[str, str]:
    """Part a heading into its name and the unit it ends with, "" where it ends with none."""
    if inside := _IN_BRACKETS.match(name):
        return inside["name"].strip(), inside["unit"].strip()
    found = _TIME_AND_UNIT.fullmatch(name)
    if found and found["unit"].casefold() in TIME_FACTORS:
        return found["name"], found["unit"]
    found = _NAME_AND_UNIT.fullmatch(name)
    if found and found["unit"].casefold() in UNITS and found["unit"] != "1":
        return found["name"], found["unit"]
    return name, ""


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
            start_s = _value(found[1], TIME_FACTORS.get((found["late"] or "s").casefold(), 1.0))
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
        step_s = _positive(_value(found[2], TIME_FACTORS.get(unit, 1.0)))
        return _rate_of(step_s) if step_s else None
    return None


def _rate_of(step_s: float) -> float:
    """Return the rate of a step; 12 digits, so that 5e-6 s is 200000 Hz and not a hair less."""
    return float(f"{1.0 / step_s:.12g}")


def _value(text: str, factor: float) -> float | None:
    text = text.strip()
    if re.fullmatch(rf"[-+]?{_GROUPS}(?:[eE][-+]?\d+)?", text):
        # groups of three: a rate of "10,000" is no ten
        text = re.sub(r"[^\d.eE+-]", "", text)
    try:
        value = float(text.replace(",", ".")) * factor
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _positive(value: float | None) -> float | None:
    return value if value is not None and value > 0 else None
