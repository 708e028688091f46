"""A case: one capture with its set-up and result, and nothing that names anybody."""

from traces.core.case.case import (
    DAMAGED,
    MANIFEST,
    NO_CASE,
    RESULT,
    SAMPLES,
    SUFFIX,
    Case,
    CaseChannel,
    CaseError,
    Part,
    known_unit,
    moved,
    parsed,
    parts_of,
    start_kept_s,
    told_result,
    with_parts,
)
from traces.core.case.case_tests import OUTCOMES, CaseTest

__all__ = [
    "DAMAGED",
    "MANIFEST",
    "NO_CASE",
    "OUTCOMES",
    "RESULT",
    "SAMPLES",
    "SUFFIX",
    "Case",
    "CaseChannel",
    "CaseError",
    "CaseTest",
    "Part",
    "known_unit",
    "moved",
    "parsed",
    "parts_of",
    "start_kept_s",
    "told_result",
    "with_parts",
]
