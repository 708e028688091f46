"""What was noticed about a capture: codes, severities and their sentences."""

from traces.core.findings.finding_texts import PHRASES, amps, finding, pointing_to
from traces.core.findings.findings import Finding, Severity, rounded
from traces.core.findings.lists import cylinders_words, listed, numbered

__all__ = [
    "PHRASES",
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
