"""Balance of files by manifest or by hand: entries in, published results out, no framework."""

import json
import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast, get_args

from engines.core.firing import FiringOrder, FiringOrderError
from engines.core.positions import bank_labels
from shopdiag.people.core.words import say
from traces.core.analysis.any_signal import judge
from traces.core.analysis.measured_event import with_measured_event
from traces.core.analysis.pressure_files import (
    NOTHING_BESIDE,
    BesideFiles,
    beside_from,
    judge_files,
    pressure_lines,
    pressure_setup_from,
)
from traces.core.findings import place_letter
from traces.core.readers import ReadError, read
from traces.core.report import CALL_WORDS, HIGH, Report, StarterFigures, published, stands_high
from traces.core.setup import (
    BANK_EVEN_WITHIN,
    AnalysisSetup,
    Banks,
    Flywheel,
    Fuel,
    ManualEdits,
    SetupError,
    SyncEvent,
    SyncEvery,
    SyncSetup,
    ToothWheel,
    banks_from,
)
from traces.core.signal_kinds import DEFAULT_SIGNAL, SIGNALS, kind_of
from traces.core.starter import starter_rows

_FUELS = ("petrol", "diesel")
_EVENTS = ("ignition", "injector", "cam")
_EVERY = (360, 720)
_ANY_ORDER = "1"
"""Stands for a firing order where one cylinder is looked at."""
_NO_SCALE_MV_PER_A = 1000.0
"""Stands for the clamp's scale where there is no clamp."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One file to judge: where it lies, what it is called, its set-up or why there is none.

    `beside` names recordings of the same engine to lay beside one cylinder's pressure.
    """

    path: Path
    name: str
    setup: AnalysisSetup | None
    error: str | None = None
    beside: BesideFiles = NOTHING_BESIDE


def setup_from(data: dict[str, Any]) -> AnalysisSetup:
    """Read a set-up from the keys of a manifest line.

    Parameters
    ----------
    data
        `firing_order` and `current` (`channel`, `mv_per_a`) are needed; `tdc_angles`,
        `current.volts_per_full_scale`, `sync`, `fuel`, `rate_hz`, `signal`,
        `voltage_channel`, `wheel` (`teeth`, `missing`), `banks`, `bank_even_within`,
        `sync.angle_deg`, `opened_plug` and `hand` (`shift`, `span_s`, `left_out_s`, `marks`) may
        be missing or None. A signal other than the starter current needs no `mv_per_a`, one
        cylinder's pressure no `firing_order`, but what `pressure` holds. Other keys are ignored.

    Raises
    ------
    SetupError
        One sentence that says what is missing or wrong.
    """
    current = data.get("current")
    signal = data.get("signal") or DEFAULT_SIGNAL
    if signal not in SIGNALS:
        raise SetupError(f"A signal is {', '.join(SIGNALS)}; not “{str(signal)[:40]}”.")
    kind = kind_of(signal)
    typed = data.get("firing_order")
    if typed is None and not kind.needs_order:
        typed = _ANY_ORDER
    if not isinstance(current, dict) or not isinstance(typed, str):
        raise SetupError("An entry needs firing_order and current with channel and mv_per_a.")
    fuel = data.get("fuel") or "petrol"
    if fuel not in _FUELS:
        raise SetupError(f"Fuel is petrol or diesel, not “{str(fuel)[:40]}”.")
    try:
        order = FiringOrder.parse(typed, data.get("tdc_angles"))
    except FiringOrderError as error:
        raise SetupError(str(error)) from None
    except (TypeError, ValueError):
        raise SetupError("The angles must be numbers of degrees like 0, 150, 240.") from None
    return AnalysisSetup(
        firing_order=order,
        current_channel=_channel(current.get("channel"), "The clamp's channel"),
        mv_per_a=_scale(current.get("mv_per_a"), needed=kind.needs_scale),
        sync=_sync_from(data.get("sync")),
        fuel=cast("Fuel", fuel),
        full_scale_v=_optional(current.get("volts_per_full_scale"), "Volts at full scale"),
        rate_hz=_optional(data.get("rate_hz"), "The sample rate"),
        signal=signal,
        voltage_channel=None
        if data.get("voltage_channel") is None
        else _channel(data["voltage_channel"], "The battery voltage's channel"),
        wheel=_wheel_from(data.get("wheel")),
        hand=ManualEdits.from_json(data.get("hand")),
        flywheel=_flywheel(data.get("flywheel")),
        opened_plug=_whole(data.get("opened_plug"), "The cylinder whose plug is out"),
        banks=_banks_from(data.get("banks")),
        pressure=None
        if kind.needs_order
        else pressure_setup_from(
            data.get("pressure"), len(order) if data.get("firing_order") else None
        ),
        bank_even_within=BANK_EVEN_WITHIN
        if data.get("bank_even_within") is None
        else _number(data["bank_even_within"], "The limit for banks"),
    )


def manifest_entries(manifest: Path) -> Iterator[Entry]:
    """Yield the entries of a manifest, one JSON object a line, in its order.

    Paths are relative to the manifest. A line that cannot be used becomes an entry with an
    error.

    Raises
    ------
    ReadError
        If the manifest itself cannot be read.
    """
    try:
        lines = manifest.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        raise ReadError(
            say(
                "The manifest “{name}” cannot be read; check its name and that it is text.",
                name=manifest.name,
            )
        ) from None
    for number, line in enumerate(lines, start=1):
        if line.strip():
            yield _entry(manifest.parent, number, line)


def results_of(entries: Iterable[Entry]) -> Iterator[dict[str, Any]]:
    """Yield the published result of each entry, in order; one bad file stops nothing.

    Not even a fault of this program does: it is named in `error`, and the list goes on.
    """
    for entry in entries:
        try:
            yield result_of(entry)
        except Exception as fault:
            sentence = (
                f"A fault in the program ({type(fault).__name__}) stopped this file's analysis; "
                "please report it."
            )
            yield result_of(replace(entry, error=sentence))


def result_of(entry: Entry) -> dict[str, Any]:
    """Return the published result of one entry; unreadable files have `error`."""
    begun = time.perf_counter()
    error = entry.error
    report = Report(verdict="not judged")
    if entry.setup is not None and error is None:
        try:
            recording = read(entry.path, name=entry.name, rate_hz=entry.setup.rate_hz)
            if entry.beside != NOTHING_BESIDE:
                waveform = recording.waveform
                report = judge_files(entry.name, waveform, entry.setup, entry.beside)
            else:
                report = judge(recording.waveform, entry.setup)
            report = with_measured_event(report, recording.waveform, entry.setup)
        except (ReadError, SetupError) as refused:
            error = str(refused)
    return published(
        report,
        file=entry.name,
        signal=entry.setup.signal if entry.setup else None,
        seconds=time.perf_counter() - begun,
        error=error,
    )


def _figures_of(row: dict[str, Any]) -> tuple[float, float, str]:
    return row["relative"], row["low"], row["call"]


def _high_figures(positions: list[dict[str, Any]]) -> frozenset[tuple[float, float, str]]:
    """Return the figures that are high; which are is told by places, the only ones in sequence."""
    return frozenset(
        _figures_of(row)
        for i, row in enumerate(positions)
        if row["call"] == "sound"
        and stands_high(
            row["relative"], row["low"], positions[i - 1]["call"] if len(positions) > 1 else ""
        )
    )


def text_of(result: dict[str, Any]) -> str:
    """Write a result for a person at a terminal."""
    lines = [f"{result['file']}: {result['verdict']}"]
    if result["error"]:
        return f"{lines[0]}\n  {result['error']}"
    lines.extend(_speed_lines(result))
    figures = result["cylinders"] if result["cylinders"] is not None else result["positions"]
    high = (
        frozenset()
        if result["running"] or result["pressure"]
        else _high_figures(result["positions"])
    )
    for figure in figures:
        interval = f"{figure['low']:.2f} to {figure['high']:.2f}"
        lines.append(
            f"  {_name(figure)}  {figure['relative']:.2f}  ({interval})  "
            + CALL_WORDS[HIGH if _figures_of(figure) in high else figure["call"]]
        )
    if result["sync_note"]:
        lines.append(f"  {result['sync_note']}")
    if angle := result["event_angle"]:
        lines.append(f"  {_angle_line(angle)}")
    lines.extend(_bank_lines(result))
    if result["verdict"] == "uneven":
        sets = " or ".join(", ".join(map(str, low)) or "none" for low in result["candidates"])
        lines.append(f"  low: {sets}")
    lines.extend(f"  {f['severity']}: {f['message']} {f['remedy']}" for f in result["findings"])
    if result["starter"]:
        lines.append("  Starter and battery:")
        starter = starter_rows(StarterFigures.from_json(result["starter"]))
        lines.extend(f"    {row.label}: {row.text}" for row in starter)
        lines.extend(
            f"    {n['message']} {n['remedy']}".rstrip() for n in result["starter"]["notes"]
        )
    return "\n".join(lines)


def _speed_lines(result: dict[str, Any]) -> list[str]:
    lines = []
    if result["cranking_rpm"] is not None:
        lines.append(f"  {result['cranking_rpm']:g} rpm, {result['cycles']} engine cycles judged")
    if running := result["running"]:
        lines.append(f"  idling at {running['rpm']:g} rpm, {result['cycles']} engine cycles judged")
    if result["pressure"]:
        lines.extend(pressure_lines(result["pressure"]))
    if result["firing_angles"]:
        lines.append(f"  {_angles_words(result['firing_angles'])}")
    return lines


def _angle_line(angle: dict[str, Any]) -> str:
    return (
        f"{angle['event']} event on channel {angle['channel']}: {angle['angle_deg']:.0f} degrees "
        f"(+-{angle['spread_deg']:.0f}) from the firing top dead centre of cylinder "
        f"{angle['cylinder']}, {angle['count']} events"
    )


def _bank_lines(result: dict[str, Any]) -> list[str]:
    if not result["banks"]:
        return []
    labels = bank_labels([bank["cylinders"] for bank in result["banks"]])
    lines = [
        f"  {label}, cylinders {', '.join(map(str, bank['cylinders']))}  {bank['mean']:.2f}  "
        f"({bank['low']:.2f} to {bank['high']:.2f})"
        for label, bank in zip(labels, result["banks"], strict=True)
    ]
    difference = result["bank_difference"]
    points = f"{difference['points']:.0f} points ({difference['low']:.0f} to "
    weaker = ", ".join(map(str, difference["weaker"]))
    called = f"UNEVEN, weaker: {weaker}" if difference["call"] == "uneven" else "even"
    return [*lines, f"  bank against bank: {called}; {points}{difference['high']:.0f})"]


def _angles_words(angles: dict[str, Any]) -> str:
    order = "-".join(map(str, angles["firing_order"]))
    if angles["even"]:
        return f"Firing angles entered: even, {angles['intervals']} degrees apart ({order})"
    at = ", ".join(f"{angle:g}" for angle in angles["angles_deg"])
    return f"Firing angles entered: {angles['intervals']} degrees apart, {order} at {at}"


def _entry(folder: Path, number: int, line: str) -> Entry:
    name = f"line {number}"
    try:
        data = json.loads(line)
        if not isinstance(data, dict) or not isinstance(data.get("file"), str):
            raise SetupError("An entry is a JSON object with a file name.")
        name = data["file"]
        setup = setup_from(data)
        return Entry(folder / name, name, setup, beside=beside_from(folder, data.get("pressure")))
    except json.JSONDecodeError:
        error = f"Line {number} of the manifest is not JSON."
    except SetupError as refused:
        error = str(refused)
    return Entry(folder / name, name, None, error)


def _sync_from(data: object) -> SyncSetup | None:
    if data is None:
        return None
    if not isinstance(data, dict):
        raise SetupError("Sync needs channel, cylinder and every_deg, or null for none.")
    every = data.get("every_deg") or 720
    event = data.get("event") or "ignition"
    cylinder = data.get("cylinder")
    if every not in _EVERY:
        raise SetupError("Sync events come every 360 or every 720 degrees.")
    if event not in _EVENTS:
        raise SetupError(f"A sync event is ignition, injector or cam, not “{str(event)[:40]}”.")
    if not isinstance(cylinder, int) or isinstance(cylinder, bool):
        raise SetupError("Sync needs the number of its cylinder.")
    return SyncSetup(
        channel=_channel(data.get("channel"), "The sync channel"),
        cylinder=cylinder,
        event=cast("SyncEvent", event),
        every_deg=cast("SyncEvery", every),
        bit=_whole(data.get("bit"), "The sync bit"),
        angle_deg=_optional(data.get("angle_deg"), "The angle of the sync event"),
        angle_spread_deg=_optional(data.get("angle_spread_deg"), "The spread of the sync angle"),
    )


def _banks_from(data: object) -> Banks | None:
    if data is None:
        return None
    rows: list[Any] = data if isinstance(data, list) else [None]
    if not all(
        isinstance(bank, list)
        and all(isinstance(cylinder, int) and not isinstance(cylinder, bool) for cylinder in bank)
        for bank in rows
    ):
        raise SetupError("Banks are lists of cylinder numbers like [[1, 3, 5], [2, 4, 6]].")
    return banks_from(rows)


def _flywheel(data: object) -> Flywheel:
    if data in (None, ""):
        return ""
    if data not in get_args(Flywheel):
        raise SetupError("The flywheel is one-piece, two-mass, or null where nobody knows.")
    return cast("Flywheel", data)


def _wheel_from(data: object) -> ToothWheel:
    if data is None:
        return ToothWheel()
    if isinstance(data, str):
        return ToothWheel.parse(data)
    if not isinstance(data, dict):
        raise SetupError(
            "A tooth wheel needs a pattern like 36-2-1-1, or teeth and missing, or null to find "
            "them."
        )
    pattern = data.get("pattern")
    if pattern is not None and not isinstance(pattern, str):
        raise SetupError("The wheel's pattern must be a text like 36-2-1-1.")
    return ToothWheel.from_json(
        {
            "teeth": _whole(data.get("teeth"), "The number of teeth"),
            "missing": _whole(data.get("missing"), "The number of missing teeth"),
            "pattern": pattern,
        }
    )


def _scale(value: object, *, needed: bool) -> float:
    if value is None and not needed:
        return _NO_SCALE_MV_PER_A
    return _number(value, "The clamp's scale in mV/A")


def _channel(value: object, what: str) -> str:
    if isinstance(value, str | int) and not isinstance(value, bool) and str(value).strip():
        return str(value)
    raise SetupError(f"{what} must be given by name or by number from 1.")


def _number(value: object, what: str) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    raise SetupError(f"{what} must be a number.")


def _whole(value: object, what: str) -> int | None:
    if value is None or (isinstance(value, int) and not isinstance(value, bool)):
        return value
    raise SetupError(f"{what} must be a whole number.")


def _optional(value: object, what: str) -> float | None:
    return None if value is None else _number(value, what)


def _name(figure: Mapping[str, Any]) -> str:
    """Return the cylinder's number, or its place's letter: a number would pass for a cylinder."""
    if "cylinder" in figure:
        return f"cylinder {figure['cylinder']:>2}"
    return f"place {place_letter(figure['position'])}"
