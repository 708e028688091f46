"""What keeps an engine from being cranked, and which test ends that."""

from dataclasses import replace

import pytest

from jobs.core.patterns import Pattern
from jobs.core.plan import Compression, Evidence, Said, TestDone, plan_for
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of
from jobs.core.plan.safety import may_hold_liquid, may_run, open_stops
from tests.jobs.plan.test_plan import FOUR, ONE, keys

HIGH = Evidence(
    engine=FOUR,
    compression=Compression("high", high=frozenset({3})),
    patterns=frozenset({Pattern.HIGH}),
)
UNNUMBERED = replace(HIGH, compression=Compression("even_as_far"))
REFUSED = replace(ONE, is_refused_for_timing=True)
LOST = replace(ONE, said=Said(coolant_loss=True))
TIMED = replace(ONE, codes=(("P0016", "stored"), ("P0302", "stored")))


def done(*rows):
    return tuple(TestDone(*row) for row in rows)


@pytest.mark.parametrize(
    ("evidence", "rows", "stops"),
    [
        (HIGH, [], ("liquid",)),
        (HIGH, [("borescope", "good", 3)], ()),
        (HIGH, [("borescope", "good")], ()),
        (HIGH, [("borescope", "good", 1)], ("liquid",)),
        (HIGH, [("borescope", "bad", 3)], ("liquid",)),
        (HIGH, [("borescope", "bad", 3), ("borescope", "good", 3)], ()),
        (HIGH, [("borescope", "good", 3), ("borescope", "bad", 3)], ("liquid",)),
        # which cylinder is not told, so that any of them may hold liquid
        (UNNUMBERED, [], ("liquid",)),
        (UNNUMBERED, [("borescope", "good", 2)], ("liquid",)),
        (UNNUMBERED, [("borescope", "good", c) for c in (1, 2, 3, 4)], ()),
        (UNNUMBERED, [("borescope", "good")], ()),
        (REFUSED, [], ("timing",)),
        (REFUSED, [("bind", "good")], ()),
        (LOST, [], ("coolant",)),
        (LOST, [("coolant", "good")], ()),
        (LOST, [("coolant", "ambiguous")], ("coolant",)),
        (LOST, [("coolant", "bad")], ("liquid",)),
        (TIMED, [], ("timing",)),
        (TIMED, [("bind", "good")], ()),
        (TIMED, [("bind", "bad")], ("timing",)),
        (TIMED, [("timing", "good")], ("timing",)),
        (TIMED, [("cam_trace", "good")], ()),
        (TIMED, [("timing", "bad"), ("bind", "good")], ()),
        (ONE, [], ()),
    ],
)
def test_a_stop_ends_with_the_test_that_settles_it(evidence, rows, stops):
    known = replace(evidence, done=done(*rows))
    assert open_stops(known) == stops
    assert bool(plan_for(known).stop) is bool(stops)
    assert may_hold_liquid(known) is bool({"liquid", "coolant"} & set(stops))
    if stops:
        assert not may_run(known, focus_of(known))


@pytest.mark.parametrize(
    ("evidence", "row"),
    [(LOST, ("coolant", "good")), (TIMED, ("bind", "good"))],
)
def test_a_settled_stop_lets_the_engine_run_again(evidence, row):
    assert "swap_coil" not in keys(plan_for(evidence))
    assert "swap_coil" in keys(plan_for(replace(evidence, done=done(row))))


def test_a_cam_that_is_out_keeps_the_engine_from_running_though_it_turns_freely():
    found = replace(TIMED, done=done(("timing", "bad"), ("bind", "good")))
    assert not may_run(found, focus_of(found))


def test_a_high_cylinder_is_looked_into_though_another_is_suspected():
    named = replace(HIGH, named=frozenset({2}), done=done(("borescope", "good", 2)))
    plan = plan_for(named)
    assert (plan.tests[0].key, plan.tests[0].cylinders) == ("borescope", (3,))
    assert plan.tests[0].is_for_safety


@pytest.mark.parametrize(
    ("said", "is_lost"),
    [
        (Said(coolant_level="low", coolant_loss=False), False),
        (Said(coolant_level="low"), True),
        (Said(coolant_level="ok", coolant_loss=True), True),
        (Said(), False),
    ],
)
def test_stop_and_clue_take_one_answer_on_coolant(said, is_lost):
    evidence = replace(ONE, said=said)
    assert ("coolant" in open_stops(evidence)) is is_lost
    assert ("coolant_lost" in {c.key for c in clues_in(evidence, focus_of(evidence))}) is is_lost
