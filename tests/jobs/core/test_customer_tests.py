"""What tests found, as the customer reads it."""

import pytest

from jobs.core.customer_tests import FAULTS, WORDS, TestTold
from jobs.core.customer_tests import tests_for_customer as told_lines
from jobs.core.measured_tests import BAD, TESTS
from jobs.models import CylinderFinding

NOT_TOLD = {"sync", "repeat", "counts", "gauge_wet", "other", "frame"}


def test_what_was_bad_is_told_with_its_figures_and_the_rest_in_one_line():
    lines = told_lines(
        [
            TestTold("injector", "good", 1, figures="drop 70 kPa"),
            TestTold("injector", "bad", 3, figures="drop 34 kPa"),
            TestTold("trims", "bad", bank=2),
            TestTold("fuel_press", "good"),
            TestTold("counts", "bad", 3),
        ]
    )
    assert len(lines) == 3
    assert lines[0].startswith("Cylinder 3: ")
    assert "34 kPa" in lines[0]
    assert lines[1].startswith("Bank 2: ")
    assert "fuel pressure" in lines[2]
    assert "injector" not in lines[2]


def test_every_test_that_tells_of_the_engine_has_words():
    assert set(WORDS) | NOT_TOLD == set(CylinderFinding.Test.values)


def test_nothing_tested_says_nothing():
    assert told_lines([TestTold("repeat", "good")]) == ()


CHOSEN = [
    ("cam_trace", {"crank_trace": "gaps"}, "gaps"),
    ("oxygen", {"exhaust_joint": "leak", "sensor_answer": "both"}, "leak"),
    ("phaser", {"cam_feed": "oil"}, "oil"),
    ("valves", {"valve_return": "slow"}, "slow"),
    ("vacuum", {"smoke_at": "common", "needle": "steady"}, "common"),
    ("plugs", {"plug_look": "cracked"}, "cracked"),
]


@pytest.mark.parametrize(("test", "values", "answer"), CHOSEN)
def test_what_was_wrong_is_told_by_the_answer_that_was_bad(test, values, answer):
    (line,) = told_lines([TestTold(test, "bad", values=values)])
    assert line == FAULTS[test, answer].bad
    # a figure that was bad, or nothing noted, is told in words that hold for all
    good = {name: answer for name, answer in values.items() if answer in {"both", "steady"}}
    assert told_lines([TestTold(test, "bad", values=good)]) == (WORDS[test].bad,)


def test_two_bad_answers_are_both_told():
    values = {"sensor_answer": "slow", "exhaust_joint": "leak"}
    (line,) = told_lines([TestTold("oxygen", "bad", values=values)])
    assert all(FAULTS["oxygen", answer].bad in line for answer in ("slow", "leak"))


def test_every_sentence_belongs_to_a_bad_answer():
    bad = {
        (test, choice.key)
        for test, entry in TESTS.items()
        for figure in entry.figures
        for choice in figure.choices
        if choice.outcome == BAD
    }
    assert set(FAULTS) <= bad
