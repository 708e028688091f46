"""One capture from samples to a judged report."""

from traces.core.judging.pipeline import analyse, analysed, judged, with_findings

__all__ = [
    "analyse",
    "analysed",
    "judged",
    "with_findings",
]
