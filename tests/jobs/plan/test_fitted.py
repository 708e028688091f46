"""What the plan makes of how coils and injectors are fitted, and when it asks."""

from dataclasses import replace

from jobs.core.plan import SwapDone, facts_that_matter, plan_for
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
    assert facts_that_matter(replace(ONE, fuel="diesel")) == ()
    followed = replace(ONE, swaps=(SwapDone("coil", 2, 1, "yes"),))
    assert facts_that_matter(followed) == ()
