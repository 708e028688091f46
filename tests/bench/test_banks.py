"""The bench of banks: what is drawn, and what its tables count."""

from dataclasses import replace

import pytest

from bench.banks import Compared, by_kind, by_layout, noteworthy
from bench.trap_scenarios import UNEVEN_BANKED, bank_late, banks_alike
from traces.simulator.scenarios import draw

LATE = "one bank late or early"


@pytest.fixture(scope="module")
def one():
    return Compared("even", LATE, draw(7000, "V6"), truth=0.09, points=0.10, half=0.05, called=True)


def test_uneven_engines_are_drawn_with_a_bank_late_and_without():
    late, alike = bank_late(1, "a", UNEVEN_BANKED), banks_alike(1, "a", UNEVEN_BANKED, "none")
    assert {late.layout, alike.layout} <= set(UNEVEN_BANKED)
    assert {c.late_closing_deg for c in late.engine.cylinders} == {0.0, 18.0}
    assert {c.late_closing_deg for c in alike.engine.cylinders} == {0.0}


def test_an_interval_holds_the_truth_of_either_bank(one):
    assert one.is_held
    assert not replace(one, truth=0.04).is_held
    assert replace(one, truth=0.02, points=0.01, half=0.03).is_held


def test_tables_count_what_is_called_doubted_and_missed(one):
    found = [
        one,
        replace(one, called=False, doubted=True),
        replace(one, called=False),
        replace(one, truth=0.05, points=0.06),
        replace(one, points=None, called=False),
        replace(one, state="sound", truth=0.01, points=0.02, called=True),
    ]
    cells = "| 5 | 4 | 3 | 1 | 1 | 1 | 1 | 0 | 1.0 | 5.0 | 100 % |"
    assert f"| even | {LATE} {cells}" in by_kind(found)
    assert f"| V6 {cells}" in by_layout(found)
    assert [line.split(":")[0] for line in noteworthy(found).splitlines()] == [
        "- missed, doubted",
        "- missed",
        "- called",
    ]
