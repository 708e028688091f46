"""When practice goes on to the next level."""

import pytest

from traces.practice.core.levels import (
    FAULT_LABELS,
    LEVELS,
    REMEDY_OF,
    REMEDY_WHY,
    Fault,
    can_have,
    level_of,
)
from traces.practice.core.progress import Tried, progress


def _at(level: int, outcomes: str) -> list[Tried]:
    return [Tried(level, outcome == "r") for outcome in outcomes]


@pytest.mark.parametrize(
    ("outcomes", "level"),
    [
        ("", 1),
        ("rrr", 1),
        ("rrrr", 2),
        ("rrrwr", 2),
        ("rrwwrr", 1),
        ("wwwwrrrr", 2),
        ("rwrrwrr", 2),
    ],
)
def test_four_right_of_the_last_five_lead_on(outcomes, level):
    assert progress(_at(1, outcomes)).level == level


def test_a_new_level_begins_with_nothing():
    found = progress(_at(1, "rrrr") + _at(2, "wr"))
    assert (found.level, found.recent, found.tried, found.right) == (2, (False, True), 6, 5)


def test_other_levels_count_as_tried_alone():
    found = progress(_at(3, "rrrrr") + _at(1, "r"))
    assert (found.level, found.tried, found.right) == (1, 6, 6)


def test_the_last_level_stays():
    steps = [one for level in LEVELS for one in _at(level.number, "rrrr")]
    found = progress([*steps, *_at(len(LEVELS), "rrrr")])
    assert found.level == len(LEVELS)
    assert found.is_last


def test_levels_hold_what_their_engines_can_have():
    assert [level.number for level in LEVELS] == list(range(1, len(LEVELS) + 1))
    for level in LEVELS:
        for engine in level.engines:
            assert any(can_have(engine, fault) for fault in level.faults)
    # Nothing is wrong with some engine at every level: nobody learns to find what is not there.
    assert all(Fault.EVEN in level.faults for level in LEVELS)
    assert set(FAULT_LABELS) == set(Fault)
    assert set(REMEDY_WHY) == set(REMEDY_OF)
    assert (level_of(0).number, level_of(99).number) == (1, len(LEVELS))


def test_only_a_v_has_a_late_bank():
    assert not can_have("I4", Fault.BANK)
    assert can_have("V8", Fault.BANK)
    assert not can_have("I3", Fault.TWO)
