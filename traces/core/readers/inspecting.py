"""What a file was understood to be, in the published form."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from traces.core.readers.recording import Recording
from traces.core.waveform import Channel, Summary, summary_of

SCHEMA = 1
FIRST_ROWS = 6


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
            {"name": channel.name, "unit": channel.unit, **_range(channel, summary)}
            for channel, summary in zip(recording.channels, summaries_of(recording), strict=True)
        ],
        "samples": recording.samples,
        "rate_hz": recording.rate_hz,
        "start_s": recording.t0_s,
        "uniform": recording.uniform,
        "notes": [str(note) for note in recording.notes],
        "error": None,
        "full_scale": recording.full_scale,
        "preview": preview(recording),
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
        "preview": None,
    }


def preview(recording: Recording) -> dict[str, Any]:
    """Return what a person confirms or corrects: first rows, and how they were come by.

    `channels` are those of the file before any correction of theirs, `text` is null for files
    that are none.
    """
    rows = min(FIRST_ROWS, recording.samples)
    return {
        "channels": [{"name": one.name, "unit": one.unit} for one in recording.found],
        "rows": [
            {
                "time_s": None
                if recording.rate_hz is None
                else float(f"{recording.t0_s + row / recording.rate_hz:.12g}"),
                "values": [
                    None if np.isnan(channel.values[row]) else _figure(channel.values[row])
                    for channel in recording.channels
                ],
            }
            for row in range(rows)
        ],
        "text": None if recording.text is None else recording.text.to_json(),
        "correction": recording.correction.to_json() if recording.correction else None,
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


def summaries_of(recording: Recording) -> Sequence[Summary]:
    """Return each channel's extremes and gaps, made now where no reader made them."""
    return recording.summaries or [summary_of(channel.blocks()) for channel in recording.channels]


def _range(channel: Channel, summary: Summary) -> dict[str, float | int | None]:
    if summary.missing == channel.values.size:
        return {"first": None, "minimum": None, "maximum": None, "missing": summary.missing}
    low, high = summary.extremes
    first = channel.values[0]
    return {
        "first": None if np.isnan(first) else _figure(first),
        "minimum": _figure(np.nanmin(low)),
        "maximum": _figure(np.nanmax(high)),
        "missing": summary.missing,
    }


def _figure(value: np.floating[Any]) -> float:
    """Write what was read, not the further digits of its 32-bit form."""
    return float(f"{float(value):.7g}")
