"""How a signed verdict fared."""

import pytest

from jobs.core.verdict_checks import (
    Check,
    Measured,
    check_named,
    check_no_fault,
    cylinders_tested,
)


def by_gauge(**by_outcome):
    """Return what compression tests found, as `bad=[3], good=[1]`."""
    return cylinders_tested(
        Measured(cylinder, "gauge_dry", outcome)
        for outcome, cylinders in by_outcome.items()
        for cylinder in cylinders
    )


@pytest.mark.parametrize(
    ("signed", "found", "fared"),
    [
        ([3], {"bad": [3], "good": [1, 2, 4]}, Check.CONFIRMED),
        ([3], {"bad": [3]}, Check.CONFIRMED),
        ([2, 3], {"bad": [2, 3]}, Check.CONFIRMED),
        ([3], {"good": [3]}, Check.NOT_CONFIRMED),
        ([3], {"bad": [2]}, Check.NOT_CONFIRMED),
        ([3], {"bad": [2, 3]}, Check.NOT_CONFIRMED),
        ([2, 3], {"bad": [2], "good": [3]}, Check.NOT_CONFIRMED),
        ([2, 3], {"bad": [2]}, Check.NOT_CHECKED),
        ([3], {"good": [1, 2, 4]}, Check.NOT_CHECKED),
        ([3], {"ambiguous": [3]}, Check.NOT_CHECKED),
        ([3], {}, Check.NOT_CHECKED),
    ],
)
def test_a_verdict_that_names_cylinders(signed, found, fared):
    assert check_named(signed, [], by_gauge(**found)) is fared
    assert check_named(signed, [signed], by_gauge(**found)) is fared


@pytest.mark.parametrize(
    ("found", "fared"),
    [
        ({"bad": [2], "good": [5]}, Check.CONFIRMED),
        ({"bad": [5]}, Check.CONFIRMED),
        ({"good": [2]}, Check.NOT_CHECKED),
        ({"good": [2, 5]}, Check.NOT_CONFIRMED),
        ({"bad": [2, 5]}, Check.NOT_CONFIRMED),
        ({"bad": [1]}, Check.NOT_CONFIRMED),
    ],
)
def test_a_verdict_that_leaves_two_open(found, fared):
    assert check_named([2, 5], [[2], [5]], by_gauge(**found)) is fared


@pytest.mark.parametrize(
    ("named", "found", "fared"),
    [
        ([2], {"good": [2]}, Check.CONFIRMED),
        ([2], {"good": [1]}, Check.NOT_CHECKED),
        ([2], {"good": [2], "bad": [1]}, Check.NOT_CONFIRMED),
        ([], {"good": [1, 2, 3, 4]}, Check.CONFIRMED),
        ([], {"good": [1, 2, 3]}, Check.NOT_CHECKED),
        ([], {}, Check.NOT_CHECKED),
    ],
)
def test_a_verdict_without_a_fault(named, found, fared):
    assert check_no_fault(named, range(1, 5), by_gauge(**found)) is fared


def test_without_the_engine_only_named_cylinders_tell():
    assert check_no_fault([], (), by_gauge(good=[1, 2])) is Check.NOT_CHECKED
    assert check_no_fault([1], (), by_gauge(good=[1])) is Check.CONFIRMED


def test_the_later_result_of_a_test_counts_and_bad_outweighs_good():
    again = cylinders_tested([Measured(3, "gauge_dry", "bad"), Measured(3, "gauge_dry", "good")])
    assert (set(again.bad), set(again.good)) == (set(), {3})
    other = cylinders_tested([Measured(3, "leak_down", "bad"), Measured(3, "gauge_dry", "good")])
    assert (set(other.bad), set(other.good)) == ({3}, set())


def test_a_bad_coil_says_nothing_of_compression():
    found = cylinders_tested([Measured(3, "coil", "bad"), Measured(3, "gauge_dry", "good")])
    assert (set(found.bad), set(found.good)) == (set(), {3})
