"""What tests found, as the customer reads it."""

from jobs.core.customer_tests import WORDS, TestTold
from jobs.core.customer_tests import tests_for_customer as told_lines
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
