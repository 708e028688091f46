"""A report as it is published: the same from the command line and from a page."""

from typing import Any

from traces.core.report.results import SCHEMA, Report
from traces.core.setup import Signal

FIGURES_PUBLISHED = (
    "verdict",
    "cylinders",
    "positions",
    "candidates",
    "cranking_rpm",
    "cycles",
)
"""What a result says of the engine, in its published order."""
BANKS_PUBLISHED = ("banks", "bank_difference")
_BESIDE = (
    "method",
    "inverted",
    "sync_note",
    "judged_from_s",
    "judged_to_s",
    "detail",
    "starter",
)


def published(
    report: Report,
    *,
    file: str,
    signal: Signal | None,
    seconds: float,
    error: str | None = None,
) -> dict[str, Any]:
    """Return the published result (schema 1) of one file."""
    whole = report.to_json()
    return {
        "schema": SCHEMA,
        "file": file,
        **{key: whole[key] for key in FIGURES_PUBLISHED},
        "findings": whole["findings"],
        "error": error,
        "seconds": round(seconds, 3),
        **{key: whole[key] for key in (*BANKS_PUBLISHED, *_BESIDE)},
        "firing_angles": whole["extra"].get("firing_angles"),
        "event_angle": whole["extra"].get("event_angle"),
        "signal": signal,
    }
