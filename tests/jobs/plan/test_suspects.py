"""What tests of some suspects, of some banks and of the whole engine say of the others."""

from dataclasses import replace

import pytest

from jobs.core.measured_tests import Limit
from jobs.core.plan import Compression, EngineFacts, Evidence, TestDone, plan_for
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of
from jobs.core.plan.knowledge import TESTS
from jobs.core.plan.readings import readings_in
from tests.jobs.plan.test_plan import EVEN, FOUR, ONE, SIX, keys, outcomes, standing, sums

WEAK_TWO = Evidence(engine=FOUR, compression=Compression("weak", weak={2: 0.5, 3: 0.4}, captures=2))


def test_good_on_one_suspect_clears_nothing_and_leaves_the_test_for_the_other():
    plan = plan_for(replace(WEAK_TWO, done=(TestDone("leak_down", "good", 2),)))
    assert not plan.ruled_out
    left = next(t for t in plan.tests if t.key == "leak_down")
    assert left.cylinders == (3,)


def test_good_on_every_suspect_clears_and_is_done():
    done = tuple(TestDone("leak_down", "good", c) for c in (2, 3))
    plan = plan_for(replace(WEAK_TWO, done=done))
    assert TESTS["leak_down"].clears <= {c.key for c in plan.ruled_out}
    assert "leak_down" not in keys(plan)


def test_bad_on_one_suspect_is_not_disputed_by_good_on_the_other():
    done = (
        TestDone("leak_down", "good", 2),
        TestDone("leak_down", "bad", 3, figures={"heard_at": "exhaust"}),
    )
    plan = plan_for(replace(WEAK_TWO, done=done))
    assert standing(plan, "valve_leak") == "shown"
    assert not plan.disputed


def test_whole_engine_tests_rule_out_where_nobody_is_named():
    done = tuple(TestDone(t, "good") for t in ("vacuum", "exhaust", "fuel_press", "cam_trace"))
    nobody = Evidence(engine=FOUR, compression=EVEN, done=done)
    assert not focus_of(nobody).cylinders
    assert {c.key for c in plan_for(nobody).ruled_out} == {
        *("false_air_common", "exhaust_blocked", "fuel_supply", "cam_timing_bank"),
        "cam_timing_all",
    }


def test_good_on_every_cylinder_is_good_of_the_engine():
    done = tuple(TestDone("gauge_dry", "good", c) for c in (1, 2, 3, 4))
    nobody = Evidence(engine=FOUR, compression=EVEN, done=done)
    assert standing(plan_for(nobody), "washed_bores") == "ruled_out"
    assert standing(plan_for(replace(nobody, done=done[:3])), "washed_bores") != "ruled_out"


def trims(*rows):
    return tuple(TestDone("trims", o, bank=b, figures=f) for b, o, f in rows)


def test_a_lean_bank_beside_a_good_one_leads_and_says_nothing_for_coil_and_plug():
    codes = (("P0174", "stored"), ("P0300", "stored"))
    before = Evidence(engine=SIX, compression=EVEN, codes=codes)
    done = trims((1, "good", sums(1.0, 0.0)), (2, "bad", sums(16.0, 15.0)))
    after = replace(before, done=done)
    assert outcomes(after, "trims") == ["lean_bank"]
    plan = plan_for(after)
    assert plan.causes[0].key == "mixture_bank"
    for cause in ("coil", "plug"):
        share = next(c.share for c in plan.causes if c.key == cause)
        assert share <= next(c.share for c in plan_for(before).causes if c.key == cause)
        assert TESTS["trims"].chance("lean_bank", cause) == pytest.approx(0.25)


def test_trims_are_good_only_where_every_bank_was_read_and_is():
    good, bad = (1, "good", sums(1.0, 0.0)), (2, "bad", sums(16.0, 15.0))
    assert outcomes(Evidence(engine=SIX, done=trims(good)), "trims") == []
    both = trims(good, (2, "good", sums(2.0, 1.0)))
    assert outcomes(Evidence(engine=SIX, done=both), "trims") == ["good"]
    assert "good" not in outcomes(Evidence(engine=SIX, done=trims(good, bad)), "trims")
    unsure = trims(good, (2, "ambiguous", {}))
    assert outcomes(Evidence(engine=SIX, done=unsure), "trims") == []


@pytest.mark.parametrize(
    ("engine", "rows", "outcome"),
    [
        (SIX, {1: sums(15.0, 14.0)}, "bad"),
        (SIX, {1: sums(15.0, 14.0), 2: sums(13.0, 12.0)}, "lean_all"),
        (FOUR, {1: sums(15.0, 14.0)}, "lean_all"),
        (EngineFacts(), {2: sums(15.0, 14.0)}, "bad"),
        # the long trim was not read: the sum is not known
        (FOUR, {1: {"idle_short_percent": 15.0, "fast_short_percent": 14.0}}, "bad"),
        # at its limit a sum still keeps it
        (FOUR, {1: sums(15.0, 10.0)}, "lean_idle"),
        (FOUR, {1: {k: v for k, v in sums(15.0, 0.0).items() if "idle" in k}}, "bad"),
    ],
)
def test_lean_throughout_needs_every_bank_and_both_trims(engine, rows, outcome):
    done = trims(*((bank, "bad", figures) for bank, figures in rows.items()))
    assert outcomes(Evidence(engine=engine, done=done), "trims") == [outcome]


@pytest.mark.parametrize(
    ("figures", "outcome"),
    [
        ({"rest_kpa": 350.0, "load_kpa": 310.0}, "low"),
        ({"rest_kpa": 350.0, "load_kpa": 315.0}, "bad"),
        ({"rest_kpa": 350.0, "held_kpa": 270.0, "held_minutes": 5.0}, "falls"),
        # a rail gives its pressure away when it stands; under load only its specified one tells
        ({"rest_kpa": 5000.0, "held_kpa": 90.0, "held_minutes": 5.0}, "bad"),
        ({"rest_kpa": 5000.0, "load_kpa": 4000.0, "held_kpa": 90.0}, "bad"),
    ],
)
def test_fuel_pressure_is_read_by_the_limits_of_its_figures(figures, outcome):
    done = (TestDone("fuel_press", "bad", figures=figures),)
    assert outcomes(replace(ONE, done=done), "fuel_press") == [outcome]


def test_trims_of_one_bank_leave_the_other_to_be_read():
    codes = (("P0174", "stored"), ("P0300", "stored"))
    before = Evidence(engine=SIX, compression=EVEN, codes=codes)
    plan = plan_for(replace(before, done=trims((2, "bad", sums(16.0, 15.0)))))
    left = next(t for t in plan.tests if t.key == "trims")
    assert (left.banks, left.where) == ((1,), "Fuel trims by bank, bank 1")
    both = trims((2, "bad", sums(16.0, 15.0)), (1, "good", sums(1.0, 0.0)))
    assert "trims" not in keys(plan_for(replace(before, done=both)))
    assert "trims" not in keys(plan_for(replace(before, engine=FOUR, done=both[1:])))


@pytest.mark.parametrize(
    ("test", "figures", "limits", "outcome"),
    [
        ("trims", sums(12.0, 11.0), {}, "lean_all"),
        # the manufacturer allows more at idle
        ("trims", sums(12.0, 11.0), {"idle_sum_percent": Limit(-15.0, 15.0)}, "lean_load"),
        ("fuel_press", {"rest_kpa": 350.0, "load_kpa": 310.0}, {}, "low"),
        (
            "fuel_press",
            {"rest_kpa": 350.0, "load_kpa": 310.0},
            {"load_fall_percent": Limit(most=15.0)},
            "bad",
        ),
        ("fuel_press", {"load_kpa": 310.0}, {"load_kpa": Limit(least=330.0)}, "low"),
    ],
)
def test_a_figure_is_read_by_the_limit_that_was_in_force(test, figures, limits, outcome):
    bank = 1 if test == "trims" else None
    done = (TestDone(test, "bad", bank=bank, figures=figures, limits=limits),)
    assert outcomes(replace(ONE, done=done), test) == [outcome]


@pytest.mark.parametrize(("apart", "outcome"), [(20.0, "drops_less"), (40.0, "bad")])
def test_a_balance_is_read_by_the_limit_that_was_in_force(apart, outcome):
    done = tuple(
        TestDone(
            "injector",
            "bad" if c == 2 else "good",
            c,
            figures={"drop_kpa": kpa},
            limits={"drop_kpa": Limit(apart=apart)},
        )
        for c, kpa in {1: 70.0, 2: 36.0, 3: 68.0, 4: 66.0}.items()
    )
    assert outcome in outcomes(replace(ONE, done=done), "injector")


@pytest.mark.parametrize(
    ("drops", "outcome", "shown"),
    [
        ({None: 1.4}, "drop", {"supply_ground"}),
        ({1: 0.6, 2: 0.7}, "drop", {"supply_ground"}),
        ({1: 0.0, 2: 0.7}, "drop_here", set()),
        ({2: 0.7}, "bad", set()),
    ],
)
def test_a_drop_over_its_limit_supports_what_it_is_a_drop_of(drops, outcome, shown):
    done = tuple(
        TestDone("wiring", "bad" if v > 0.2 else "good", c, figures={"ground_drop_v": v})
        for c, v in drops.items()
    )
    evidence = replace(ONE, done=done)
    assert outcomes(evidence, "wiring") == [outcome]
    plan = plan_for(evidence)
    assert {c.key for c in plan.causes if c.standing == "shown"} == shown
    if outcome == "drop_here":
        assert standing(plan, "lead") == "leading"


@pytest.mark.parametrize(
    ("test", "good", "bad", "outcome", "shown"),
    [
        ("valves", {"intake_lift_mm": 12.0}, {"intake_lift_mm": 5.1}, "lift", "lobe_worn"),
        (
            "injector",
            {"resistance_ohm": 14.2},
            {"resistance_ohm": 29.0},
            "electric",
            "injector_electric",
        ),
        # a current alone may be its wiring
        ("injector", {"peak_a": 0.9}, {"peak_a": 0.4}, "bad", None),
    ],
)
def test_a_figure_that_stands_out_shows_its_cause(test, good, bad, outcome, shown):
    done = tuple(
        TestDone(test, "bad" if c == 2 else "good", c, figures=bad if c == 2 else good)
        for c in (1, 2, 3, 4)
    )
    evidence = replace(ONE, done=done)
    assert outcome in outcomes(evidence, test)
    found = {c.key for c in plan_for(evidence).causes if c.standing == "shown"}
    assert found == ({shown} if shown else set())


@pytest.mark.parametrize(
    ("figures", "shown"),
    [
        ({"smoke_at": "runner", "needle": "low"}, {"false_air_runner"}),
        ({"smoke_at": "common"}, {"false_air_common"}),
        ({"smoke_at": "nowhere", "recirculation_closed": "better"}, {"egr_stuck"}),
        ({"needle": "low"}, set()),
    ],
)
def test_smoke_and_what_closing_off_does_show_the_air_that_gets_in(figures, shown):
    done = (TestDone("vacuum", "bad", figures=figures),)
    plan = plan_for(replace(ONE, done=done))
    assert {c.key for c in plan.causes if c.standing == "shown"} == shown


def test_a_clearance_out_of_the_limit_that_is_set_shows_it():
    limits = {"exhaust_clearance_mm": Limit(least=0.2)}
    figures = {"exhaust_clearance_mm": 0.05, "exhaust_lift_mm": 10.0}
    done = (TestDone("valves", "bad", 2, figures=figures, limits=limits),)
    assert standing(plan_for(replace(ONE, done=done)), "valve_clearance") == "shown"


def test_a_leak_heard_nowhere_is_neutral_among_valve_rings_and_seat():
    bad = TESTS["leak_down"].found("bad")
    assert bad
    assert len({bad.chance(c) for c in ("valve_leak", "rings", "seat_leak")}) == 1
    done = (TestDone("leak_down", "bad", 2, figures={"leak_percent": 60.0}),)
    assert outcomes(replace(ONE, done=done), "leak_down") == ["bad"]


@pytest.mark.parametrize(
    ("engine", "codes", "clue"),
    [
        (EngineFacts(), ["P0174"], "code_lean_bank"),
        (EngineFacts(), ["P0171"], "code_lean_all"),
        (EngineFacts(), ["P0171", "P0174"], "code_lean_all"),
        (SIX, ["P0171"], "code_lean_bank"),
        (EngineFacts(), ["P0018"], "code_cam_bank"),
    ],
)
def test_a_code_of_bank_2_proves_two_banks(engine, codes, clue):
    evidence = Evidence(engine=engine, codes=tuple((c, "stored") for c in codes))
    assert clue in {c.key for c in clues_in(evidence, focus_of(evidence))}


def test_readings_name_every_cylinder_that_they_rest_on():
    done = tuple(TestDone("leak_down", "good", c) for c in (2, 3))
    evidence = replace(WEAK_TWO, done=done)
    assert [r.cylinders for r in readings_in(evidence, focus_of(evidence))] == [(2, 3)]
