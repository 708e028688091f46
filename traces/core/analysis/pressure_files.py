"""Files of one cylinder's pressure: what an entry says of them, and their result as text."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from traces.core.analysis.judged_by_pressure import Recorded, judge_among
from traces.core.readers import read
from traces.core.report import Report
from traces.core.setup import AnalysisSetup, PressureSetup, SetupError
from traces.core.waveform import Waveform

_ROWS = (
    ("peak_kpa", "peak", "kPa over the air"),
    ("loss_deg", "peak before top dead centre", "degrees"),
    ("compression_exponent", "exponent of compression", ""),
    ("expansion_exponent", "exponent of expansion", ""),
    ("leg_loss_percent", "expansion lacks", "% of compression"),
    ("loss_per_s", "loss about top dead centre", "1/s"),
    ("exhaust_opens_deg", "exhaust opens", "degrees"),
    ("back_pressure_kpa", "exhaust stroke", "kPa over the air"),
    ("exchange_deg", "middle of exhaust to intake", "degrees"),
    ("intake_kpa", "intake stroke", "kPa over the air"),
    ("intake_closes_deg", "intake closes", "degrees"),
)
_BESIDE = (
    ("intake_cam_deg", "intake cam later by", "degrees"),
    ("exhaust_cam_deg", "exhaust cam later by", "degrees"),
    ("peak_share", "peak over its", ""),
    ("back_pressure_kpa", "exhaust stroke higher by", "kPa"),
    ("intake_kpa", "intake stroke higher by", "kPa"),
    ("loss_share", "loss over its", ""),
)


@dataclass(frozen=True, slots=True)
class BesideFiles:
    """Recordings to lay beside one: a known-good one, and other cylinders by number."""

    known_good: Path | None = None
    others: tuple[tuple[int, Path], ...] = ()


NOTHING_BESIDE = BesideFiles()


def pressure_setup_from(data: object, cylinders: int | None) -> PressureSetup | None:
    """Read what an entry says of the transducer.

    Parameters
    ----------
    data
        `kpa_per_v`, `zero_v`, `compression_ratio`, `air_kpa`, `cylinder`; each may be missing.
    cylinders
        Of the engine, where its firing order was given.

    Raises
    ------
    SetupError
        One sentence that says what is wrong.
    """
    if data is None:
        return PressureSetup(cylinders=cylinders)
    if not isinstance(data, dict):
        raise SetupError("Pressure is an object with kpa_per_v, cylinder and the like.")
    numbers = {}
    for name in ("kpa_per_v", "zero_v", "compression_ratio", "air_kpa"):
        value = data.get(name)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise SetupError(f"In pressure {name} must be a number.")
        numbers[name] = None if value is None else float(value)
    cylinder = data.get("cylinder")
    if cylinder is not None and (isinstance(cylinder, bool) or not isinstance(cylinder, int)):
        raise SetupError("In pressure cylinder must be a whole number.")
    return PressureSetup(**numbers, cylinder=cylinder, cylinders=cylinders)


def beside_from(folder: Path, data: object) -> BesideFiles:
    """Read which files an entry lays beside its own; paths are relative to `folder`.

    Raises
    ------
    SetupError
        If a number or name makes no sense, or a cylinder is named twice.
    """
    if not isinstance(data, dict):
        return NOTHING_BESIDE
    good, others = data.get("known_good"), data.get("others") or {}
    if good is not None and not isinstance(good, str):
        raise SetupError("In pressure known_good must be the name of a file.")
    if not isinstance(others, dict):
        raise SetupError('In pressure others must be like {"2": "second.csv"}.')
    found = []
    for number, name in others.items():
        if not str(number).isdigit() or not isinstance(name, str):
            raise SetupError('In pressure others must be like {"2": "second.csv"}.')
        found.append((int(number), folder / name))
    own = data.get("cylinder")
    if found and not isinstance(own, int):
        raise SetupError("Say which cylinder the first file shows, so that others can be told.")
    if len({own, *(number for number, _ in found)}) <= len(found):
        raise SetupError("Each cylinder may be named once.")
    return BesideFiles(folder / good if good else None, tuple(found))


def judge_files(name: str, waveform: Waveform, setup: AnalysisSetup, beside: BesideFiles) -> Report:
    """Judge a recording with those laid beside it.

    Raises
    ------
    ReadError
        If one of them cannot be read.
    """
    good = None
    if beside.known_good is not None:
        good = _recorded(beside.known_good, setup, None)
    others = [_recorded(path, setup, number) for number, path in beside.others]
    return judge_among(Recorded(name, waveform), setup, good, others)


def _recorded(path: Path, setup: AnalysisSetup, cylinder: int | None) -> Recorded:
    recording = read(path, name=path.name, rate_hz=setup.rate_hz)
    return Recorded(path.name, recording.waveform, cylinder)


def pressure_lines(figures: Mapping[str, Any]) -> list[str]:
    """Write figures of a cylinder's pressure for a person at a terminal, a line each."""
    which = "" if figures["cylinder"] is None else f"cylinder {figures['cylinder']}, "
    lines = [
        f"  {which}{figures['state']} at {figures['rpm']:g} rpm, "
        f"{figures['cycles']} engine cycles; zero from {figures['zero_from']}; "
        f"compressions {figures['towers']}, {figures['peak_spread_percent']:g} % standard deviation"
    ]
    lines += _rows(figures, _ROWS)
    opens = figures["exhaust_opens_before_bottom_deg"]
    closes = figures["intake_closes_after_bottom_deg"]
    if opens is not None and closes is not None:
        lines.append(
            f"  exhaust opens {opens:.0f} degrees before bottom dead centre, intake closes "
            f"{closes:.0f} degrees after it"
        )
    if beside := figures["beside"]:
        lines.append(f"  beside the known-good {beside['file']}:")
        lines += _rows(beside, _BESIDE)
    for row in figures["in_turn"]:
        loss = "" if row["loss_rank"] is None else f", loss rank {row['loss_rank']}"
        lines.append(
            f"  cylinder {row['cylinder']:>2} ({row['file']}): {row['peak_kpa']:.0f} kPa at "
            f"{row['rpm']:g} rpm{loss}"
        )
    return lines


def _rows(figures: Mapping[str, Any], rows: tuple[tuple[str, str, str], ...]) -> list[str]:
    lines = []
    for name, label, unit in rows:
        figure = figures[name]
        if figure is None:
            lines.append(f"    {label}: does not show")
            continue
        interval = f"({figure['low']:g} to {figure['high']:g})"
        parts = (f"    {label}: {figure['value']:g}", unit, interval)
        lines.append(" ".join(part for part in parts if part))
    return lines
