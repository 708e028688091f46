"""How long plugs take to reach orders the tests; the times are typed, the rules common practice."""

import pytest

from jobs.core.candidate_ranking import Misfires, ranked
from jobs.core.patterns import Pattern
from jobs.core.plug_access import LONG_MINUTES, PlugAccess
from jobs.core.tests_wanted import (
    CRANKS_THE_ENGINE,
    Circumstances,
    all_wanted,
    beginning_with,
    wanted_tests,
)
from jobs.core.wanted_test_texts import LONGEST_WORDS
from tests.wording import says, says_only

# a transverse V6: the front bank 2-4-6 in 15 minutes, the rear one under the intake in 90
V6 = {1: 90, 3: 90, 5: 90, 2: 15, 4: 15, 6: 15}


def on(*suspects, minutes=V6, **given):
    access = PlugAccess(
        minutes,
        frozenset(suspects),
        frozenset(given.pop("high", ())),
        frozenset(given.pop("beside", ())),
    )
    return Circumstances(cylinders=6, captures=1, access=access, **given)


def keys(*patterns, on):
    return [t.key for t in all_wanted(patterns, on)]


def test_the_one_to_compare_with_is_good_soon_reached_and_no_neighbour():
    assert on(1).access.easiest_good == 2
    assert on(2, beside=(4,)).access.easiest_good == 6
    assert on(1, high=(2,)).access.easiest_good == 4
    assert on(1, minutes={}).access.easiest_good is None
    assert on(1, minutes={1: 10}).access.easiest_good is None


def test_the_leak_down_names_it():
    for fuel in ("petrol", "diesel"):
        (leak,) = (t for t in wanted_tests(Pattern.ONE, on(1, fuel=fuel)) if t.key == "leak_down")
        assert says(leak.words, "plug_access.good-cylinder-min", number=2, minutes=15)
        assert len(leak.words) <= LONGEST_WORDS
    untimed = next(t for t in wanted_tests(Pattern.ONE) if t.key == "leak_down")
    assert says(untimed.words, "plug_access.easy-good-one")


def test_what_needs_no_plug_out_comes_first_where_plugs_take_long():
    # cranking vacuum before the rear bank is opened for a gauge
    assert keys(Pattern.BANK_UNEVEN, on=on()) == [
        *("timing", "bind", "cam_trace", "vacuum", "bank_gauge")
    ]
    assert keys(Pattern.EVEN_MISFIRES, on=on())[:2] == ["swap", "exhaust"]
    assert keys(Pattern.SAME_BANK, on=on(1, 5))[:3] == ["timing", "bind", "cam_trace"]
    # the same on the bank in front, and where nobody timed it: by what it tells
    assert keys(Pattern.SAME_BANK, on=on(2, 6))[:3] == ["timing", "bind", "leak_down"]
    assert keys(Pattern.SAME_BANK, on=on(1, 5, minutes={})) == keys(Pattern.SAME_BANK, on=on(2, 6))


@pytest.mark.parametrize("minutes", [LONG_MINUTES, 1440])
def test_liquid_is_looked_for_first_however_long_it_takes(minutes):
    slow = dict.fromkeys(V6, minutes)
    for pattern in set(Pattern) - {Pattern.HIGH_COMPANIONS}:
        given = on(1, minutes=slow, high=(3,))
        found = keys(Pattern.HIGH, pattern, on=given)
        assert found[0] == "stop"
        assert found.index("borescope") < min(
            found.index(k) for k in CRANKS_THE_ENGINE & set(found)
        )


def test_nothing_cranks_before_it_was_barred_over_however_long_it_takes():
    for code in ("P0016", "P0008"):
        found = keys(Pattern.ONE, on=on(1, codes=frozenset({code})))
        assert found.index("bind") < min(found.index(k) for k in CRANKS_THE_ENGINE & set(found))


def test_the_gauge_begins_where_it_is_soonest_reached_unless_misfires_point_elsewhere():
    dry = next(t for t in wanted_tests(Pattern.OPEN, on(1, 4)) if t.key == "gauge_dry")
    assert says_only(dry.words, "plug_access.begin-soonest-reached", turn="cylinder 4, then 1")
    assert len(dry.words) <= LONGEST_WORDS
    same = next(t for t in wanted_tests(Pattern.OPEN, on(1, 3)) if t.key == "gauge_dry")
    assert "Begin with" not in same.words


def test_misfires_tell_more_than_minutes():
    tests = wanted_tests(Pattern.OPEN, on(1, 4))
    ranking = ranked([(1,), (4,)], Misfires({}, [("P0301", "stored")]))
    begun = next(t for t in beginning_with(ranking, [1, 4], tests) if t.key == "gauge_dry")
    assert begun.words.count("Begin with") == 1
    assert says_only(begun.words, "tests_wanted.begin-misfires", turn="cylinder 1, then 4")
    assert len(begun.words) <= LONGEST_WORDS


def test_minutes_needed_are_those_of_the_slowest_suspect_or_of_all():
    assert on(2).access.needed_minutes == 15
    assert on(1, 2).access.needed_minutes == 90
    assert on().access.needed_minutes == 90
    assert on(1, minutes={2: 15}).access.needed_minutes is None
