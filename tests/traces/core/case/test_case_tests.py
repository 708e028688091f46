"""Tests that a case takes along: codes and figures, and nothing else from a stranger."""

from dataclasses import replace
from typing import Any

import pytest

from tests.traces.core.readers import files
from traces.core.case import Case, CaseError, CaseTest

LEAK = CaseTest("leak_down", "bad", 3, figures={"leak_percent": 48.0, "heard_at": "exhaust"})
CASE = replace(files.a_case(), samples=2, sha256="0" * 64)


def test_they_come_back_and_cases_without_any_are_as_before() -> None:
    told = replace(CASE, tests=(LEAK, CaseTest("trims", "good", bank=2)))
    assert Case.from_json(told.to_json()).tests == told.tests
    assert "tests" not in CASE.to_json()["manifest"]
    assert Case.from_json(CASE.to_json()).tests == ()


@pytest.mark.parametrize(
    "change",
    [
        {"test": "Marked Person"},
        {"outcome": "fine"},
        {"cylinder": "3"},
        {"cylinder": 99},
        {"bank": 0},
        {"figures": []},
        {"figures": {"heard_at": "By Marked Person"}},
        {"figures": {"Marked Person": 1.0}},
        {"figures": {"leak_percent": 1e12}},
        {"figures": {"leak_percent": True}},
        {"figures": {f"a{n}": 1.0 for n in range(40)}},
    ],
)
def test_a_strangers_tests_are_taken_on_no_trust(change: dict[str, Any]) -> None:
    said = CASE.to_json()
    said["manifest"]["tests"] = [LEAK.to_json() | change]
    with pytest.raises(CaseError):
        Case.from_json(said)
