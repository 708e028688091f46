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
from tests.wording import says, says_only, wording

_BARS_OVER = (
    "request.bar-over-before-cranking",
    "request.valve-timing-bank-first",
    "request.valve-gear-timing-bank",
    "request.valve-timing-first-bar",
    "request.bar-over-before-cranking-valve",
    "request.find-why-bar-over",
    "request.find-why-bar-over-before",
)
"""Whatever asks to bar the engine over."""


def test_names():
    assert named([3]) == "cylinder 3"
    assert named({3, 2}) == "cylinders 2 and 3"
    assert named([4, 1, 2]) == "cylinders 1, 2 and 4"


def test_the_request_names_the_cylinder():
    assert says_only(request_line([3], Pattern.ONE), "request.find-why-low", cylinders="cylinder 3")
    assert says_only(
        request_line([2, 3], Pattern.ADJACENT),
        "request.find-why-low",
        cylinders="cylinders 2 and 3",
    )
    assert "every cylinder" in request_line([], Pattern.NONE)
    lost = request_line([3, 4], Pattern.ADJACENT, coolant_first=True)
    assert lost.index("cooling system first") < lost.index("Leak-down")


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("coolant_first", [False, True])
def test_whoever_reads_only_the_request_bars_over_where_timing_is_in_doubt(pattern, coolant_first):
    of_none: list[list[int]] = [] if pattern is Pattern.OPEN else [[]]
    for cylinders in (*of_none, [3], [1, 3], [1, 2, 3, 4]):
        line = request_line(cylinders, pattern, timing_in_doubt=True, coolant_first=coolant_first)
        assert any(says(line, name) for name in _BARS_OVER), (cylinders, line)
        assert len(line) < LONGEST_REQUEST, line


def test_a_high_cylinder_comes_before_the_low_one():
    line = request_line([3], Pattern.ONE, high=[2])
    assert says_only(
        line, "request.look-liquid-before-cranking", high="cylinder 2", low="cylinder 3"
    )


def test_a_bind_comes_before_liquid_in_two_companions():
    line = request_line([], Pattern.NONE, high=[1, 4], high_are_companions=True)
    assert says_only(line, "request.find-what-binds-once", high="cylinders 1 and 4")


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
    figure = {"relative": "57 %", "low": "53 %", "high": "61 %"}
    assert says(words, "request.good-cylinders-95-interval", whose="Cylinder 3", **figure)
    assert says(words, "request.over-engine-cycles", cycles=9)
    assert says(words, "request.relative-only-wear-equal")
    assert "kPa" not in words
    assert "psi" not in words
    assert "against the capture" in how_low([RequestedFigure(3, 0.9, 0.8, 1.0)], 9, "overruled")
    assert says(how_low([], 0, "without"), "request.not-measured-capture-compression")


def test_an_open_question_is_asked_as_one():
    line = request_line([1, 4], Pattern.OPEN)
    which = wording("request.low", cylinders="cylinders 1 and 4")
    assert says_only(line, "request.find-why-check-sync", which=which)
    assert is_open([1, 4], [[1], [4]])
    assert not is_open([1], [[1], [4]])
    assert not is_open([1, 4], [[1, 4]])
    assert not is_open([], [])
    words = how_low([RequestedFigure(None, 0.5, 0.45, 0.55)], 9, "accepted")
    assert says(words, "request.good-cylinders-95-interval", whose="One of them", relative="50 %")


def test_which_cylinder_is_a_confidence_of_its_own():
    assert says(which_cylinder([3], [[3]], "accepted"), "request.settled-sync-holds-if")
    open_question = which_cylinder([1], [[1], [4]], "accepted")
    assert says_only(
        open_question,
        "request.not-settled-capture-may-diagnostician",
        sets="cylinder 1 or cylinder 4",
        cylinders="cylinder 1",
        left="cylinder 4",
    )
    assert says(which_cylinder([1, 4], [[1], [4]], "accepted"), "request.not-settled-capture-may")
    assert "chose none" in which_cylinder([], [[1], [4]], "overruled")
    assert "against the capture" in which_cylinder([2], [[3]], "overruled")
    assert "triage alone" in which_cylinder([2], [], "without")


def test_what_would_rule_it_out_names_limits_and_companion():
    words = disproof([1], {1: 4})
    assert says(words, "request.dry-compression-test-inside", cylinders="cylinder 1")
    assert says(words, "request.if-360deg-companion-reads", others="cylinder 4")
    # a pair of companions maps onto itself when the sync is a turn off
    pair = disproof([1, 4], {1: 4, 4: 1})
    assert "wrong turn" not in pair
    assert says_only(disproof([], {}), "request.cylinder-misses-gauge-limits")
    assert "Every cylinder inside" in disproof([], {}, is_fault=True)


def test_an_open_question_names_both_sets_that_fit():
    pairs = request_line([1, 2, 3, 4], Pattern.OPEN, sets=[(1, 2), (3, 4)])
    assert says(pairs, "request.out-whether-low", either="cylinders 1 and 2 or cylinders 3 and 4")
    six = request_line(range(1, 7), Pattern.OPEN, sets=[(c,) for c in range(1, 7)])
    assert says(six, "request.low", cylinders="cylinders 1, 2, 3, 4, 5 and 6")
    assert max(len(pairs), len(six)) <= 130
