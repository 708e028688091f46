"""What the plan makes of a misfire that is there warm, by captures made cold or warm."""

from dataclasses import replace

import pytest

from jobs.core.patterns import Pattern
from jobs.core.plan import Compression, Costs, SwapDone, TestDone, plan_for
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of
from tests.jobs.plan.test_plan import ONE, keys, outcomes

REACHED = Costs(dict.fromkeys(range(1, 5), 20))
COLD = Compression(result="even", temperature="cold")
ROWS = (SwapDone("coil", 2, 1, "no"), SwapDone("plug", 2, 3, "no"))
WARM_ONLY = replace(
    ONE,
    compression=COLD,
    happens=frozenset({"warm"}),
    swaps=ROWS,
    done=(TestDone("injector", "good", 2),),
)


def with_repeat(outcome, *, is_warm, evidence=WARM_ONLY):
    row = TestDone("repeat", outcome, is_warm=is_warm)
    return replace(evidence, done=(*evidence.done, row))


def even_clue(evidence):
    found = [c.key for c in clues_in(evidence, focus_of(evidence)) if c.key.startswith("even")]
    assert len(found) == 1
    return found[0]


def share(evidence, cause):
    return next(c.share for c in plan_for(evidence).causes if c.key == cause)


def test_a_bad_warm_repeat_counts_by_what_it_finds():
    bad = with_repeat("bad", is_warm=True)
    assert outcomes(bad, "repeat_warm") == ["bad"]
    assert outcomes(bad, "repeat") == []
    assert share(bad, "valve_leak") > 2 * share(WARM_ONLY, "valve_leak")
    assert even_clue(bad) == "even_before_warm"
    assert "repeat_warm" not in keys(plan_for(bad, REACHED))


@pytest.mark.parametrize("is_warm", [False, None])
def test_a_cold_repeat_leaves_the_warm_one_to_be_made(is_warm):
    cold = with_repeat("good", is_warm=is_warm)
    assert "repeat_warm" in keys(plan_for(cold, REACHED))
    assert even_clue(cold) == "even_not_warm"
    # an even capture that is even again was not misread
    assert share(cold, "misread") <= share(WARM_ONLY, "misread")


def test_a_good_warm_repeat_is_an_even_test_made_warm():
    good = with_repeat("good", is_warm=True)
    assert outcomes(good, "repeat_warm") == ["good"]
    assert even_clue(good) == "even"
    assert "repeat_warm" not in keys(plan_for(good, REACHED))
    assert share(good, "valve_leak") < share(WARM_ONLY, "valve_leak")


@pytest.mark.parametrize("is_warm", [True, False, None])
def test_a_repeat_of_a_weak_cylinder_is_its_second_capture_at_any_temperature(is_warm):
    weak = replace(
        ONE,
        compression=Compression("weak", weak={2: 0.5}),
        patterns=frozenset({Pattern.ONE}),
    )
    assert "repeat" in keys(plan_for(weak))
    again = with_repeat("bad", is_warm=is_warm, evidence=weak)
    assert outcomes(again, "repeat") == ["bad"]
    assert "repeat" not in keys(plan_for(again))


@pytest.mark.parametrize(
    ("temperature", "clue"),
    [("cold", "even_not_warm"), ("", "even_warm_not_noted"), ("warm", "even"), ("hot", "even")],
)
def test_that_it_was_not_tried_warm_is_said_only_where_it_was_noted(temperature, clue):
    compression = Compression(result="even", temperature=temperature)
    assert even_clue(replace(WARM_ONLY, compression=compression)) == clue
