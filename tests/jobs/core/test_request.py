"""The sentences of a work order."""

import pytest

from jobs.core.patterns import Pattern
from jobs.core.request import (
    LONGEST_REQUEST,
    RequestedFigure,
    disproof,
    how_low,
    is_open,
    named,
    request_line,
    which_cylinder,
)


def test_names():
    assert named([3]) == "cylinder 3"
    assert named({3, 2}) == "cylinders 2 and 3"
    assert named([4, 1, 2]) == "cylinders 1, 2 and 4"


def test_the_request_names_the_cylinder():
    assert request_line([3], Pattern.ONE).startswith("Find why cylinder 3 is low: ")
    assert "cylinders 2 and 3 are low" in request_line([2, 3], Pattern.ADJACENT)
    assert "every cylinder" in request_line([], Pattern.NONE)
    lost = request_line([3, 4], Pattern.ADJACENT, coolant_first=True)
    assert lost.index("cooling system first") < lost.index("Leak-down")


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("coolant_first", [False, True])
def test_whoever_reads_only_the_request_bars_over_where_timing_is_in_doubt(pattern, coolant_first):
    of_none: list[list[int]] = [] if pattern is Pattern.OPEN else [[]]
    for cylinders in (*of_none, [3], [1, 3], [1, 2, 3, 4]):
        line = request_line(cylinders, pattern, timing_in_doubt=True, coolant_first=coolant_first)
        assert "ar over before cranking" in line, (cylinders, line)
        assert len(line) < LONGEST_REQUEST, line


def test_a_high_cylinder_comes_before_the_low_one():
    line = request_line([3], Pattern.ONE, high=[2])
    assert line.index("liquid in cylinder 2") < line.index("cylinder 3")


def test_a_bind_comes_before_liquid_in_two_companions():
    line = request_line([], Pattern.NONE, high=[1, 4], high_are_companions=True)
    assert line.index("binds once a turn") < line.index("liquid in cylinders 1 and 4")


@pytest.mark.parametrize("pattern", list(Pattern))
def test_requests_fit_one_line(pattern):
    for lost in (False, True):
        # the heading of the printed sheet holds 130
        assert len(request_line([3, 4], pattern, coolant_first=lost)) <= 130
        line = request_line(range(1, 9), pattern, coolant_first=lost)
        assert len(line) <= LONGEST_REQUEST
        assert line.endswith(".")
    assert len(request_line(range(1, 17), pattern)) <= LONGEST_REQUEST


def test_how_low_gives_figure_interval_and_limits():
    words = how_low([RequestedFigure(3, 0.574, 0.53, 0.61)], 9, "accepted")
    assert words.startswith(
        "Cylinder 3 at 57 % of the good cylinders (95 % interval 53 % to 61 %), over 9 "
    )
    assert "Relative only" in words
    assert "kPa" not in words
    assert "psi" not in words
    assert "against the capture" in how_low([RequestedFigure(3, 0.9, 0.8, 1.0)], 9, "overruled")
    assert "compression test has to say" in how_low([], 0, "without")


def test_an_open_question_is_asked_as_one():
    line = request_line([1, 4], Pattern.OPEN)
    assert line.startswith("Find which of cylinders 1 and 4 is low, and why")
    assert is_open([1, 4], [[1], [4]])
    assert not is_open([1], [[1], [4]])
    assert not is_open([1, 4], [[1, 4]])
    assert not is_open([], [])
    assert how_low([RequestedFigure(None, 0.5, 0.45, 0.55)], 9, "accepted").startswith(
        "One of them at 50 % of the good cylinders"
    )


def test_which_cylinder_is_a_confidence_of_its_own():
    assert "Settled by the sync" in which_cylinder([3], [[3]], "accepted")
    open_question = which_cylinder([1], [[1], [4]], "accepted")
    assert "cylinder 1 or cylinder 4" in open_question
    assert "chose cylinder 1" in open_question
    assert "Measure all of them" in which_cylinder([1, 4], [[1], [4]], "accepted")
    assert "chose none" in which_cylinder([], [[1], [4]], "overruled")
    assert "against the capture" in which_cylinder([2], [[3]], "overruled")
    assert "triage alone" in which_cylinder([2], [], "without")


def test_what_would_rule_it_out_names_limits_and_companion():
    words = disproof([1], {1: 4})
    assert "cylinder 1 inside the gauge limits of this job" in words
    assert "cylinder 4, the 360° companion, reads low instead" in words
    # a pair of companions maps onto itself when the sync is a turn off
    pair = disproof([1, 4], {1: 4, 4: 1})
    assert "wrong turn" not in pair
    assert "misses the gauge limits" in disproof([], {})
    assert "Every cylinder inside" in disproof([], {}, is_fault=True)


def test_an_open_question_names_both_sets_that_fit():
    pairs = request_line([1, 2, 3, 4], Pattern.OPEN, sets=[(1, 2), (3, 4)])
    assert "cylinders 1 and 2 or cylinders 3 and 4 are low" in pairs
    six = request_line(range(1, 7), Pattern.OPEN, sets=[(c,) for c in range(1, 7)])
    assert "which of cylinders 1, 2, 3, 4, 5 and 6" in six
    assert max(len(pairs), len(six)) <= 130
