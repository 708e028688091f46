"""Tests asked for, in order; the order is common practice, sources stand beside each test."""

import pytest

from jobs.core.candidate_ranking import Misfires, ranked
from jobs.core.coolant_loss import loses_coolant
from jobs.core.patterns import Pattern
from jobs.core.tests_wanted import (
    CRANKS_THE_ENGINE,
    Circumstances,
    all_wanted,
    beginning_with,
    recorded_as,
    timing_in_doubt,
    wanted_tests,
)
from jobs.core.wanted_test_texts import LONGEST_WORDS
from jobs.demo.stories import STORIES
from tests.wording import says_only

ONE_CAPTURE = Circumstances(captures=1)


def keys(pattern, on=ONE_CAPTURE, done=(), **given):
    return [t.key for t in wanted_tests(pattern, on, done, **given)]


def all_keys(*patterns, on=ONE_CAPTURE):
    return [t.key for t in all_wanted(patterns, on)]


def test_one_low_is_captured_again_and_then_looked_at_beside_a_good_one():
    # common practice: the named cylinder first, the full set for the manufacturer's limit later
    assert keys(Pattern.ONE) == [
        *("repeat_once", "leak_down", "borescope", "seats", "gauge_dry", "gauge_wet", "valves")
    ]


def test_a_capture_that_was_repeated_already_is_not_repeated_again():
    assert "repeat_once" not in keys(Pattern.ONE, Circumstances(captures=2))
    assert "repeat_once" not in keys(Pattern.ONE, Circumstances(captures=0))
    assert "repeat_once" not in all_keys(Pattern.ONE, Pattern.COMES_AND_GOES)


def test_what_may_hold_liquid_is_not_cranked_for_a_second_figure():
    assert "repeat_once" not in all_keys(Pattern.HIGH, Pattern.ONE)
    assert "repeat_once" not in keys(Pattern.ONE, Circumstances(loses_coolant=True, captures=1))


def test_neighbours_are_listened_to():
    found = keys(Pattern.ADJACENT)
    assert found.index("leak_down") < found.index("neighbour")
    assert "sync" not in found


def test_neighbours_a_turn_apart_are_a_gasket_before_a_drag_and_no_question_of_sync():
    # 2 and 3 of 1-3-4-2: a sync on the wrong turn maps the pair onto itself
    on = Circumstances(cylinders=4, captures=1)
    assert all_keys(Pattern.ADJACENT, Pattern.COMPANIONS, on=on) == [
        *("repeat_once", "leak_down", "neighbour", "bind", "borescope", "gauge_dry", "gauge_wet")
    ]


def test_a_drag_makes_another_pair_look_low_on_a_four_only():
    # it raises its own pair; the other pair of a four is all that is left to look low
    assert "bind" in keys(Pattern.COMPANIONS, Circumstances(cylinders=4))
    assert "bind" not in keys(Pattern.COMPANIONS, Circumstances(cylinders=6))
    assert "sync" not in keys(Pattern.COMPANIONS, Circumstances(cylinders=4))


def test_an_open_question_checks_the_sync_and_then_the_gauge():
    assert keys(Pattern.OPEN)[:2] == ["sync", "gauge_dry"]


IN_DOUBT = [
    *(Pattern.BANK, Pattern.SAME_BANK, Pattern.BANK_UNEVEN, Pattern.ALL, Pattern.FAST_EVEN),
]


@pytest.mark.parametrize("pattern", IN_DOUBT)
@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
def test_with_timing_in_doubt_nothing_cranks_before_it_was_barred_over(pattern, fuel):
    # common practice: an interference engine bends its valves
    found = keys(pattern, Circumstances(fuel=fuel, captures=1))
    assert found[0] == "timing"
    first = min(found.index(key) for key in CRANKS_THE_ENGINE & set(found))
    assert found.index("bind") < first
    assert timing_in_doubt([pattern])
    words = {t.key: t.words for t in wanted_tests(pattern, Circumstances(fuel=fuel))}
    assert "do not crank" in words["bind"]


@pytest.mark.parametrize("code", ["P0008", "P0016", "P0019"])
def test_a_code_of_crank_against_cam_puts_any_engine_in_doubt(code):
    # SAE J2012: engine position system, crankshaft-camshaft correlation
    on = Circumstances(codes=frozenset({code}), captures=1)
    for pattern in Pattern:
        found = keys(pattern, on)
        first = min(found.index(key) for key in CRANKS_THE_ENGINE & set(found))
        assert found.index("bind") < first, pattern
        assert {"timing", "cam_trace"} <= set(found)


def test_a_phaser_code_asks_for_the_timing_but_forbids_no_cranking():
    # P0011, P0021: over-advanced, mostly oil or its valve (SAE J2012; common practice)
    on = Circumstances(codes=frozenset({"P0021", "P0301"}), captures=1)
    assert not timing_in_doubt([Pattern.ONE], on)
    assert keys(Pattern.ONE, on)[:3] == ["timing", "repeat_once", "leak_down"]


def test_a_high_cylinder_stops_the_cranking():
    assert keys(Pattern.HIGH)[0] == "stop"
    assert keys(Pattern.ONE, any_high=True)[0] == "stop"
    assert keys(Pattern.HIGH, any_high=True).count("stop") == 1
    # an exhaust valve of the companion that stays shut stands on top of the high one
    assert "exhaust_lift" in keys(Pattern.HIGH)


def test_two_high_companions_are_barred_over_before_looked_into():
    assert keys(Pattern.HIGH_COMPANIONS)[:2] == ["bind", "stop"]
    assert all_keys(Pattern.HIGH_COMPANIONS, Pattern.ONE)[:2] == ["bind", "stop"]


def test_what_is_done_is_not_asked_again():
    assert keys(Pattern.COMES_AND_GOES, done={"gauge_dry", "borescope"}) == [
        *("repeat", "running", "valves")
    ]


@pytest.mark.parametrize("on", [Circumstances("diesel"), Circumstances(is_flat=True)])
def test_no_oil_goes_into_a_diesel_or_a_flat_engine(on):
    # one maker forbids oil in a diesel; in a flat engine it does not reach the whole ring
    for pattern in Pattern:
        assert "gauge_wet" not in keys(pattern, on)
        for test in wanted_tests(pattern, on):
            assert "oil each bore" not in test.words
    assert "gauge_wet" in keys(Pattern.ONE, Circumstances("gas"))
    assert "wash" in keys(Pattern.ALL, on)


def test_a_diesel_is_gauged_without_throttle_or_plugs():
    diesel = Circumstances("diesel")
    dry = next(t for t in wanted_tests(Pattern.ONE, diesel) if t.key == "gauge_dry")
    assert "throttle" not in dry.words
    assert "plugs out" not in dry.words
    assert "vacuum" not in keys(Pattern.ALL, diesel)


@pytest.mark.parametrize("pattern", list(Pattern))
@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
def test_each_test_says_what_why_and_from_where(pattern, fuel):
    on = Circumstances(
        fuel, loses_coolant=True, codes=frozenset({"P0016"} if fuel == "diesel" else ()), captures=1
    )
    found = wanted_tests(pattern, on)
    assert found
    assert len({t.key for t in found}) == len(found)
    for test in found:
        assert 0 < len(test.words) <= LONGEST_WORDS, test.key
        # limits in force are filled in when it is ordered
        assert "{" not in test.words or test.key == "exhaust"
        assert test.why
        assert test.source


def test_one_pattern_keeps_its_order():
    for pattern in Pattern:
        assert all_keys(pattern) == keys(pattern)


def test_several_patterns_ask_each_test_once_in_one_order():
    assert all_keys(Pattern.ONE, Pattern.COMES_AND_GOES)[:2] == ["repeat", "leak_down"]
    # with liquid about, the look into the cylinder comes before anything is cranked again
    assert all_keys(Pattern.HIGH, Pattern.ONE)[:2] == ["stop", "borescope"]
    assert all_keys(Pattern.FAST_EVEN, Pattern.EVEN_MISFIRES)[:3] == ["timing", "bind", "cam_trace"]


def test_lost_coolant_is_looked_for_first():
    on = Circumstances(cylinders=6, loses_coolant=True, captures=1)
    assert all_keys(Pattern.ADJACENT, Pattern.COMPANIONS, on=on)[:3] == [
        *("coolant", "leak_down", "neighbour")
    ]
    for pattern in Pattern:
        found = keys(pattern, on)
        assert set(found[: found.index("coolant")]) <= {"stop", "bind"}
    assert keys(Pattern.HIGH, on)[0] == "stop"


def test_the_six_of_the_demo_that_loses_coolant_is_asked_for_the_gasket_first():
    losing = [
        story
        for story in STORIES
        if loses_coolant([story.complaint["words"], story.remarks])
        and loses_coolant([], story.complaint.get("warning_lights", ()))
    ]
    assert [story.crank.layout for story in losing] == ["I6"]
    assert not any(loses_coolant([s.complaint["words"]]) for s in STORIES if s not in losing)


def test_the_gauge_begins_where_the_misfires_point():
    found = ranked([(1,), (4,)], Misfires({1: 3, 2: 8, 3: 7, 4: 112}, [("P0304", "stored")]))
    tests = wanted_tests(Pattern.OPEN, ONE_CAPTURE)
    begun = beginning_with(found, [1, 4], tests)
    assert [t.key for t in begun] == [t.key for t in tests]
    assert says_only(begun[1].words, "tests_wanted.begin-misfires", turn="cylinder 4, then 1")
    assert begun[0] == tests[0]
    assert beginning_with(found, [1], tests) == tests
    assert beginning_with(None, [1, 4], tests) == tests
    undecided = ranked([(1,), (4,)], Misfires({1: 50, 4: 50}, []))
    assert beginning_with(undecided, [1, 4], tests) == tests


def test_a_weaker_bank_is_barred_over_and_then_gauged_on_one_cylinder_of_each_bank():
    # common practice, by cost: codes and data, cam trace, one gauge a bank, vacuum
    assert keys(Pattern.BANK_UNEVEN) == ["timing", "bind", "cam_trace", "bank_gauge", "vacuum"]
    assert "both banks" in wanted_tests(Pattern.BANK_UNEVEN)[0].words
    assert recorded_as("bank_gauge") == "gauge_dry"


def test_an_even_engine_that_misfires_is_asked_how_it_breathes():
    # worn lobe, blocked exhaust
    tests = {t.key: t for t in wanted_tests(Pattern.EVEN_MISFIRES)}
    assert {"running", "exhaust", "valves"} <= set(tests)


def test_the_demo_tests_the_cooling_system_before_anything_cranks():
    losing = [s for s in STORIES if loses_coolant([s.complaint["words"]])]
    for story in losing:
        tests = [found.test for found in story.findings]
        assert tests[0] == "coolant"
        assert not CRANKS_THE_ENGINE & set(tests)
    leaks = [f for s in STORIES for f in s.findings if f.leak_percent is not None]
    assert any(f.good_cylinder for f in leaks)
