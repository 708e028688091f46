"""Tests beside the capture that a case takes along: by code and figure, without a word."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from engines.core.firing import MOST_CYLINDERS
from traces.core.case.case_checks import figure, like, listed, one_of, whole

Value: TypeAlias = float | str
OUTCOMES = ("good", "bad", "ambiguous")
MOST_TESTS, _MOST_FIGURES = 400, 24
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_MOST = 1e9


@dataclass(frozen=True, slots=True)
class CaseTest:
    """One result of a test.

    Parameters
    ----------
    test
        Its code.
    outcome
        `good`, `bad` or `ambiguous`.
    cylinder, bank
        What it is about; both None for the whole engine.
    figures
        What was measured, by name with its unit at the end; what was chosen, by its code.
    """

    test: str
    outcome: str
    cylinder: int | None = None
    bank: int | None = None
    figures: Mapping[str, Value] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """Return it as a case's manifest has it."""
        return {
            "test": self.test,
            "outcome": self.outcome,
            "cylinder": self.cylinder,
            "bank": self.bank,
            "figures": dict(self.figures),
        }


def checked_tests(data: Sequence[Any]) -> tuple[CaseTest, ...]:
    """Read a stranger's tests: codes by their form, figures by their size, nothing else."""
    return tuple(_checked(row) for row in listed(data, MOST_TESTS))


def _checked(row: Mapping[str, Any]) -> CaseTest:
    figures = row["figures"]
    if not isinstance(figures, dict) or len(figures) > _MOST_FIGURES:
        raise ValueError("figures of a test are an object")
    cylinder, bank = row["cylinder"], row["bank"]
    return CaseTest(
        test=like(_NAME, row["test"]),
        outcome=one_of(row["outcome"], OUTCOMES),
        cylinder=None if cylinder is None else whole(cylinder, 1, MOST_CYLINDERS),
        bank=None if bank is None else whole(bank, 1, MOST_CYLINDERS),
        figures={like(_NAME, name): _value(value) for name, value in figures.items()},
    )


def _value(value: object) -> Value:
    return like(_NAME, value) if isinstance(value, str) else figure(value, -_MOST, _MOST)
