"""Tests asked for, in order; the order is common practice, sources stand beside each test."""

import pytest

from jobs.core.candidate_ranking import Misfires, ranked
from jobs.core.patterns import Pattern
from jobs.core.tests_wanted import all_wanted, beginning_with, recorded_as, wanted_tests


def keys(pattern, fuel="petrol", done=(), **given):
    return [t.key for t in wanted_tests(pattern, fuel, done, **given)]


def test_one_low_goes_from_gauge_to_leak_down():
    assert keys(Pattern.ONE) == ["gauge_dry", "gauge_wet", "leak_down", "borescope"]


def test_neighbours_are_listened_to():
    found = keys(Pattern.ADJACENT)
    assert found.index("leak_down") < found.index("neighbour")


def test_an_open_question_checks_the_sync_and_then_the_gauge():
    assert keys(Pattern.OPEN)[:2] == ["sync", "gauge_dry"]


def test_companions_check_the_sync_before_anything_is_opened():
    assert keys(Pattern.COMPANIONS)[:2] == ["sync", "bind"]


@pytest.mark.parametrize("pattern", [Pattern.BANK, Pattern.ALL])
def test_a_row_or_all_low_checks_timing_first(pattern):
    first = wanted_tests(pattern)[0]
    assert first.key == "timing"
    assert "{" not in first.words


def test_a_high_cylinder_stops_the_cranking():
    first = wanted_tests(Pattern.HIGH)[0]
    assert first.key == "stop"
    assert "Do not crank again" in first.words
    assert keys(Pattern.ONE, any_high=True)[0] == "stop"
    assert keys(Pattern.HIGH, any_high=True).count("stop") == 1


def test_two_high_companions_are_turned_by_hand_before_looked_into():
    assert keys(Pattern.HIGH_COMPANIONS)[:2] == ["bind", "stop"]
    assert all_keys(Pattern.HIGH_COMPANIONS, Pattern.ONE)[:2] == ["bind", "stop"]


def test_what_is_done_is_not_asked_again():
    assert keys(Pattern.ONE, done={"gauge_dry", "borescope"}) == ["gauge_wet", "leak_down"]


def test_a_diesel_is_not_simply_oiled():
    # One maker forbids oil in a diesel's cylinder (service text, example).
    wet = next(t for t in wanted_tests(Pattern.ONE, "diesel") if t.key == "gauge_wet")
    assert "only if the maker of this diesel allows" in wet.words
    dry = next(t for t in wanted_tests(Pattern.ONE, "diesel") if t.key == "gauge_dry")
    assert "throttle" not in dry.words
    assert "plugs out" not in dry.words


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
def test_each_test_says_what_why_and_from_where(pattern, fuel):
    found = wanted_tests(pattern, fuel)
    assert found
    assert len({t.key for t in found}) == len(found)
    for test in found:
        assert test.words
        assert test.why
        assert test.source


def all_keys(*patterns):
    return [t.key for t in all_wanted(patterns, "petrol")]


def test_one_pattern_keeps_its_order():
    for pattern in Pattern:
        assert all_keys(pattern) == keys(pattern)


def test_several_patterns_ask_each_test_once_in_one_order():
    assert all_keys(Pattern.COMPANIONS, Pattern.ADJACENT) == [
        *("sync", "bind", "gauge_dry", "gauge_wet", "leak_down", "neighbour", "borescope")
    ]
    assert all_keys(Pattern.ONE, Pattern.COMES_AND_GOES)[:2] == ["repeat", "gauge_dry"]
    # with liquid about, the look into the cylinder comes before anything is cranked again
    assert all_keys(Pattern.HIGH, Pattern.ONE)[:3] == ["stop", "borescope", "gauge_dry"]
    assert all_keys(Pattern.FAST_EVEN, Pattern.EVEN_MISFIRES) == [
        *("timing", "gauge_dry", "wash", "running")
    ]


def test_a_fast_even_crank_needs_an_absolute_gauge():
    assert "gauge_dry" in keys(Pattern.FAST_EVEN)
    assert "of the engine" in wanted_tests(Pattern.FAST_EVEN)[0].words


def test_the_gauge_begins_where_the_misfires_point():
    found = ranked([(1,), (4,)], Misfires({1: 3, 2: 8, 3: 7, 4: 112}, [("P0304", "stored")]))
    tests = wanted_tests(Pattern.OPEN)
    begun = beginning_with(found, [1, 4], tests)
    assert [t.key for t in begun] == [t.key for t in tests]
    assert begun[1].words.endswith(
        "Begin with cylinder 4, then 1 (by the misfires: inference, not measurement)."
    )
    assert begun[0] == tests[0]
    assert beginning_with(found, [1], tests) == tests
    assert beginning_with(None, [1, 4], tests) == tests
    undecided = ranked([(1,), (4,)], Misfires({1: 50, 4: 50}, []))
    assert beginning_with(undecided, [1, 4], tests) == tests


def test_a_weaker_bank_is_gauged_on_one_cylinder_of_each_bank_first():
    assert keys(Pattern.BANK_UNEVEN) == ["bank_gauge", "timing"]
    assert "both banks" in wanted_tests(Pattern.BANK_UNEVEN)[1].words
    assert recorded_as("bank_gauge") == "gauge_dry"
    assert all_keys(Pattern.BANK_UNEVEN, Pattern.EVEN_MISFIRES)[0] == "bank_gauge"
