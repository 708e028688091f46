"""What the plan makes of how coils and injectors are fitted, and when it asks."""

from dataclasses import replace

import pytest

from jobs.core.plan import SwapDone, facts_that_matter, plan_for
from jobs.core.plan.choosing import choose
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of
from tests.jobs.plan.test_plan import ONE, keys, standing

PAIR = replace(
    ONE, codes=(("P0301", "stored"), ("P0304", "stored")), counts={1: 88, 2: 2, 3: 1, 4: 95}
)


def test_a_pair_coil_explains_two_cylinders_a_turn_apart():
    shares = {
        kind: next(
            c.share for c in plan_for(replace(PAIR, ignition=kind)).causes if c.key == "coil"
        )
        for kind in ("pairs", "single", "distributor")
    }
    assert shares["pairs"] > 0.5 > 2 * shares["single"]
    assert shares["distributor"] < 0.25


def test_a_part_that_all_share_does_not_fail_on_one_cylinder():
    one_coil = plan_for(replace(ONE, ignition="distributor"))
    assert standing(one_coil, "coil") in {"possible", "unlikely"}
    assert "swap_coil" not in keys(one_coil)
    one_injector = plan_for(replace(ONE, injection="single_point"))
    assert standing(one_injector, "injector_clogged") == "unlikely"
    assert not {"injector", "swap_injector"} & set(keys(one_injector))


def test_it_is_asked_only_where_it_matters():
    assert "coils" in facts_that_matter(ONE)
    assert "coils" not in facts_that_matter(replace(ONE, ignition="single"))
    known = replace(ONE, ignition="single", injection="port")
    assert facts_that_matter(known) == ()
    diesel = replace(ONE, fuel="diesel")
    assert "coils" not in facts_that_matter(diesel)
    assert facts_that_matter(replace(diesel, injection="unit")) == ()
    followed = replace(ONE, swaps=(SwapDone("coil", 2, 1, "yes"),))
    assert facts_that_matter(followed) == ()


ALL_CODES = tuple((f"P030{c}", "stored") for c in (1, 2, 3, 4))


@pytest.mark.parametrize(
    ("misfires", "is_all"),
    [
        ({"codes": ALL_CODES, "counts": {}}, True),
        ({"codes": ALL_CODES[:3], "counts": {}}, False),
        # what was counted goes before codes
        ({"codes": ALL_CODES, "counts": {1: 1, 2: 143, 3: 2, 4: 1}}, False),
        # one stands out, and still all misfire
        ({"codes": (), "counts": {1: 200, 2: 100, 3: 90, 4: 95}}, True),
        ({"codes": (), "counts": {1: 60, 2: 55, 3: 70, 4: 58}}, True),
    ],
)
@pytest.mark.parametrize(
    ("fitted", "cause"),
    [
        ({"ignition": "distributor"}, "coil"),
        ({"injection": "single_point"}, "injector_clogged"),
    ],
)
def test_a_part_that_all_share_may_fail_where_all_misfire(fitted, cause, misfires, is_all):
    evidence = replace(ONE, **misfires)
    fitting = replace(evidence, **fitted)
    found = {c.key for c in clues_in(fitting, focus_of(fitting)) if c.key.startswith("one_")}
    part = "one_coil" if cause == "coil" else "one_injector"
    assert found == {f"{part}_all" if is_all else part}
    shares, usual = (
        next(c.share for c in plan_for(e).causes if c.key == cause) for e in (fitting, evidence)
    )
    assert (shares > usual) is is_all


def test_a_pair_coil_is_not_cleared_by_cylinders_that_misfire_too():
    evidence = replace(ONE, ignition="pairs", counts={1: 60, 2: 200, 3: 70, 4: 65}, codes=())
    assert "pair_coil_one" not in {c.key for c in clues_in(evidence, focus_of(evidence))}


def test_no_more_plans_are_made_than_it_takes_to_ask(monkeypatch):
    made = []

    def counted(*given, **told):
        made.append(given)
        return choose(*given, **told)

    monkeypatch.setattr("jobs.core.plan.plan.choose", counted)
    assert facts_that_matter(replace(ONE, ignition="single", injection="port")) == ()
    assert len(made) == 0
    # the second kind of coil differs already
    assert facts_that_matter(replace(ONE, injection="port")) == ("coils",)
    assert len(made) == 2
