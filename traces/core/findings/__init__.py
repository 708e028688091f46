"""What was noticed about a capture: codes, severities and their sentences."""

from traces.core.findings.finding_texts import amps, finding, pointing_to
from traces.core.findings.findings import Finding, Severity, rounded
from traces.core.findings.lists import cylinders_words, listed, numbered
from traces.core.findings.plug_finding_texts import PLUG_AIDS
from traces.core.findings.sync_finding_texts import BAR_OVER

__all__ = [
    "BAR_OVER",
    "PLUG_AIDS",
    "Finding",
    "Severity",
    "amps",
    "cylinders_words",
    "finding",
    "listed",
    "numbered",
    "pointing_to",
    "rounded",
]
