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


def _range(values: Samples) -> dict[str, float | int | None]:
    missing = np.isnan(values)
    count = int(missing.sum())
    if count == values.size:
        return {"first": None, "minimum": None, "maximum": None, "missing": count}
    return {
        "first": None if missing[0] else float(values[0]),
        "minimum": float(np.nanmin(values)),
        "maximum": float(np.nanmax(values)),
        "missing": count,
    }
