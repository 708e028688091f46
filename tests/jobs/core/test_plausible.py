"""Readings that are asked back: slips of unit and contradictions; no database."""

import pytest

from jobs.core.gauge import DEFAULT_RULE
from jobs.core.plausible import contradictions, doubts_about_pressure


@pytest.mark.parametrize(
    ("kpa", "outcome", "fuel", "asked"),
    [
        # 98 bar for 9.8: the slip of a lost comma
        (9800.0, "good", "petrol", True),
        (980.0, "good", "petrol", False),
        (1800.0, "good", "petrol", False),
        # a diesel standard of 27 bar (a maker's figures, as an example)
        (2700.0, "good", "diesel", False),
        (2700.0, "good", "petrol", True),
        # 9.8 typed as kPa by somebody who reads bar
        (9.8, "bad", "petrol", True),
        (0.0, "bad", "petrol", False),
        (0.0, "good", "petrol", True),
        (60.0, "bad", "petrol", False),
    ],
)
def test_what_no_engine_builds_is_asked_back(kpa, outcome, fuel, asked):
    doubts = doubts_about_pressure(kpa, outcome=outcome, fuel=fuel, unit="bar")
    assert bool(doubts) is asked


def test_good_beside_a_much_higher_one_is_a_contradiction():
    dry = {1: 1210.0, 2: 480.0, 3: 1180.0}
    good = dict.fromkeys(dry, "good")
    assert set(contradictions(dry, good, DEFAULT_RULE, "kPa")) == {2}
    assert not contradictions(dry, good | {2: "bad"}, DEFAULT_RULE, "kPa")
    assert not contradictions({}, {}, DEFAULT_RULE, "kPa")


@pytest.mark.parametrize(
    ("dry", "bad", "asked"),
    [
        # a slip of the unit is the only thing to ask about
        ({1: 12.0, 3: 480.0}, {3}, {1}),
        ({1: 640.0, 3: 1210.0}, {3}, {1}),
        # the bad one is the highest, and as good as the good one
        ({1: 1190.0, 3: 1210.0}, {3}, {3}),
        ({1: 1210.0, 2: 12.0, 3: 1180.0}, {3}, {2, 3}),
        ({1: 1210.0, 3: 480.0}, {3}, set()),
    ],
)
def test_a_bad_reading_is_held_against_good_ones_that_keep_the_limits(dry, bad, asked):
    outcomes = {c: "bad" if c in bad else "good" for c in dry}
    found = contradictions(dry, outcomes, DEFAULT_RULE, "kPa")
    assert set(found) == asked
    # no cylinder is set beside itself
    assert [c for c, words in found.items() if words.count(f"cylinder {c}") > 0] == []
