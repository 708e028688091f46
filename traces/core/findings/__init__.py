"""What was noticed about a capture: codes, severities and their sentences."""

from traces.core.findings.finding_texts import amps, filled, finding, pointing_to
from traces.core.findings.findings import Finding, Severity, rounded
from traces.core.findings.lists import (
    chained,
    cylinders_words,
    joined,
    listed,
    numbered,
    place_letter,
    place_words,
)

__all__ = [
    "Finding",
    "Severity",
    "amps",
    "chained",
    "cylinders_words",
    "filled",
    "finding",
    "joined",
    "listed",
    "numbered",
    "place_letter",
    "place_words",
    "pointing_to",
    "rounded",
]
