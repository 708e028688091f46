"""What each pattern's reading has to say, and what it must not: each part with its source.

A reading that drops one of these sends somebody to the wrong part of the engine.
"""

import pytest

from jobs.core.candidate_ranking import CAVEAT
from jobs.core.groups import EVEN_IN_TEST
from jobs.core.pattern_meanings import MEANINGS
from jobs.core.patterns import Pattern
from jobs.core.tests_wanted import Circumstances, all_wanted
from tests.wording import says

READINGS = [
    # common practice: what several on one bank share, and only then the bores
    (Pattern.SAME_BANK, ("valve gear", "cam", "lifters", "oil feed", "timing")),
    (Pattern.SAME_BANK, ("After that wear", "fuel-washed bores")),
    # published cam timing figures: an early cam raises cranking compression, a late one lowers it
    (Pattern.BANK, ("one of the two banks", "late", "early", "Do not crank on")),
    (Pattern.BANK_UNEVEN, ("one of the two banks", "may be the good one")),
    # a trade text on relative compression: equal loss everywhere is invisible
    (Pattern.FAST_EVEN, ("Valve timing", "fuel-washed bores", "Do not crank on")),
    (Pattern.ALL, ("Valve timing", "fuel-washed bores", "Do not crank on")),
    # common practice; the companion's charge is compressed once more, about +110 N m at 23 degrees
    # before top dead centre for 0.5 L and 10.5 to 1 (calculated)
    (Pattern.HIGH, ("Liquid", "carbon", "exhaust valve does not open in its 360° companion")),
    (Pattern.HIGH, ("Stop", "cranking on can bend a rod")),
    # common practice: a bind comes once a turn, so it shows on both
    (Pattern.HIGH_COMPANIONS, ("binds once in every crank turn", "Liquid in both", "less likely")),
    # geometry: one turn maps two companions onto each other, whatever the sync says
    (Pattern.COMPANIONS, ("a sync on the wrong turn maps this pair onto itself",)),
    # geometry: only on a four are the two that are left a pair of their own
    (Pattern.COMPANIONS, ("On a four a drag once a turn",)),
]


@pytest.mark.parametrize(("pattern", "parts"), READINGS)
def test_a_reading_says_what_it_has_to(pattern, parts):
    assert all(part in MEANINGS[pattern].reading for part in parts)


def test_the_doubt_about_the_turn_belongs_to_a_single_low_cylinder():
    # geometry: a pair of companions stays the same pair on the other turn
    assert "wrong turn" in MEANINGS[Pattern.ONE].disproof
    for pattern in (Pattern.COMPANIONS, Pattern.ADJACENT, Pattern.BANK, Pattern.SAME_BANK):
        assert "wrong turn" not in MEANINGS[pattern].disproof


def test_a_leak_down_says_that_its_per_cent_hang_on_the_tester():
    # FAA AC 43.13-1B ch. 8: 0.040 in up to a 5.00 in bore
    on = Circumstances(cylinders=4, captures=1)
    (why,) = {t.why for t in all_wanted([Pattern.ONE], on) if t.key == "leak_down"}
    for part in ("tester's orifice", "note the tester", "compare within one"):
        assert part in why


def test_a_full_set_of_gauges_is_for_the_manufacturers_limit_and_comes_after_the_named_one():
    # common practice: the named cylinder tells most for what it costs
    wanted = all_wanted([Pattern.ONE], Circumstances(cylinders=4, captures=1))
    keys = [t.key for t in wanted]
    assert keys.index("leak_down") < keys.index("borescope") < keys.index("gauge_dry")
    dry = wanted[keys.index("gauge_dry")]
    assert says(dry.words, "jobs/wanted_tests:dry.words")
    assert "good cylinder" in wanted[keys.index("borescope")].words


def test_counters_are_told_as_what_they_are():
    # makers' service texts: a crank that turns erratically; common practice: by firing place
    for part in ("name the wrong cylinder", "turns erratically", "place in the firing order"):
        assert part in CAVEAT


def test_the_customer_reads_what_was_tested_and_not_that_the_engine_is_sound():
    # a cranking test compares cylinders; it says nothing of the engine as a whole
    assert says(EVEN_IN_TEST, "groups.cylinders-compare-evenly-cranking")
    assert says(EVEN_IN_TEST, "groups.cylinders-compare-evenly-cranking")
    assert "sound" not in EVEN_IN_TEST
