"""A report as it is published: the same from the command line, a page and the API.

The published form is held stable, however results are stored.
"""

from typing import Any

from shopdiag.people.core.words import worded
from traces.core.report.results import Report
from traces.core.signal_kinds import SIGNAL_KINDS, Signal

SCHEMA = 1
"""Of the published form."""

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
_SAME_NAME = ("firing_angles", "twin", "teeth_fit", "plain", "opened_plug", "event_angle")
_BY_TWIN = frozenset({"twin", "voltage"})
_LABELLING = _BY_TWIN | {"teeth", "plain"}
"""Methods that weigh the labels, and say so where there are none to weigh."""


def published(
    report: Report,
    *,
    file: str,
    signal: Signal | None,
    seconds: float,
    error: str | None = None,
) -> dict[str, Any]:
    """Return the published result (schema 1) of one file."""
    whole = worded(report.to_json())
    return {
        "schema": SCHEMA,
        "file": file,
        **{key: whole[key] for key in FIGURES_PUBLISHED},
        "findings": [found.published() for found in report.findings],
        "error": error,
        "seconds": round(seconds, 3),
        **{key: whole[key] for key in (*BANKS_PUBLISHED, *_BESIDE)},
        "firing_angles": whole["parts"].get("firing_angles"),
        "event_angle": whole["parts"].get("event_angle"),
        "running": whole["parts"].get("running"),
        "pressure": whole["parts"].get("pressure"),
        "signal": signal,
    }


def published_whole(report: Report) -> dict[str, Any]:
    """Return all that is stored of a result in the published form, for programs.

    The parts stand in `extra`, by the names that programs know them by.
    """
    whole: dict[str, Any] = worded(report.to_json())
    parts = whole.pop("parts")
    findings = [found.published() for found in report.findings]
    return whole | {"schema": SCHEMA, "findings": findings, "extra": _extra(report, parts)}


def _extra(report: Report, parts: dict[str, Any]) -> dict[str, Any]:
    extra = {name: parts[name] for name in _SAME_NAME if name in parts}
    extra |= parts.get("layout", {})
    if "cycle_fit" in parts:
        # what a fit has not is not told of it
        extra["cycle_fit"] = {n: v for n, v in parts["cycle_fit"].items() if v not in ([], None)}
    if uses := report.parts.cycle_uses:
        cycles = zip(parts["cycle_uses"]["cycles"], uses.cycles, strict=True)
        extra["cycles"] = [told | {"used": cycle.used} for told, cycle in cycles]
        extra["excluded"] = parts["cycle_uses"]["excluded"]
    if report.parts.layout is not None and report.method in _LABELLING:
        extra["which_cylinder"] = parts.get("label")
    if report.parts.layout is not None and report.method in _BY_TWIN:
        extra["second_compression"] = parts.get("second_compression")
    for kind in SIGNAL_KINDS:
        if own := parts.get(kind.part):
            extra |= kind.published_part(own)
    return extra
