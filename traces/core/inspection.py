"""What a file was understood to be, in the published form."""

from typing import Any

import numpy as np

from traces.core.readers import Recording
from traces.core.waveform import Samples

SCHEMA = 1


def inspection(recording: Recording, *, file: str) -> dict[str, Any]:
    """Return plain JSON values in the published order (schema 1).

    Parameters
    ----------
    recording
        What the reader handed back.
    file
        The file's name as the user knows it.
    """
    return {
        "schema": SCHEMA,
        "file": file,
        "format": recording.format,
        "channels": [
            {"name": c.name, "unit": c.unit, **_range(c.values)} for c in recording.channels
        ],
        "samples": recording.samples,
        "rate_hz": recording.rate_hz,
        "start_s": recording.t0_s,
        "uniform": recording.uniform,
        "notes": list(recording.notes),
        "error": None,
        "full_scale": recording.full_scale,
    }


def unreadable(file: str, error: str) -> dict[str, Any]:
    """Return the published form for a file that no reader understands."""
    return {
        "schema": SCHEMA,
        "file": file,
        "format": None,
        "channels": [],
        "samples": 0,
        "rate_hz": None,
        "start_s": None,
        "uniform": None,
        "notes": [],
        "error": error,
        "full_scale": None,
    }


def text_of(found: dict[str, Any]) -> str:
    """Write an inspection for a person at a terminal."""
    rate = "unknown rate" if found["rate_hz"] is None else f"{found['rate_hz']:g} Hz"
    lines = [
        f"{found['file']}: {found['format']}, {found['samples']} samples, {rate}, "
        f"from {found['start_s']:g} s"
    ]
    for channel in found["channels"]:
        unit = channel["unit"] or ("of full scale" if found["full_scale"] else "no unit")
        low, high = channel["minimum"], channel["maximum"]
        span = "no values" if low is None else f"{low:g} to {high:g}"
        missing = f", {channel['missing']} missing" if channel["missing"] else ""
        lines.append(f"  {channel['name']}  {span} ({unit}){missing}")
    lines.extend(f"  {note}" for note in found["notes"])
    return "\n".join(lines)


def _range(values: Samples) -> dict[str, float | int | None]:
    missing = np.isnan(values)
    count = int(missing.sum())
    if count == values.size:
        return {"first": None, "minimum": None, "maximum": None, "missing": count}
    return {
        "first": None if missing[0] else _figure(values[0]),
        "minimum": _figure(np.nanmin(values)),
        "maximum": _figure(np.nanmax(values)),
        "missing": count,
    }


def _figure(value: np.floating[Any]) -> float:
    """Write what was read, not the further digits of its 32-bit form."""
    return float(f"{float(value):.7g}")
