"""One capture from samples to a judged report."""

from traces.core.judging.pipeline import analyse, analysed, angles_told, judged, with_findings

__all__ = [
    "analyse",
    "analysed",
    "angles_told",
    "judged",
    "with_findings",
]
