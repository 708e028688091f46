"""What the plan makes of the records of its tests: each cause is shown by the one that shows it."""

from dataclasses import replace

import pytest

from jobs.core.measured_tests import Limit
from jobs.core.patterns import Pattern
from jobs.core.plan import Compression, EngineFacts, Evidence, SwapDone, TestDone, plan_for
from jobs.core.plan.clues import clues_in
from jobs.core.plan.focus import focus_of
from jobs.core.plan.unknown_facts import facts_that_matter
from tests.jobs.plan.test_plan import EVEN, FOUR, ONE, SIX, keys, outcomes, standing, sums

WEAK = replace(ONE, compression=Compression(result="weak", weak={2: 0.8}))
SLOW = Evidence(engine=FOUR, compression=EVEN, cranks="slow")
MANY = Evidence(engine=FOUR, compression=EVEN, codes=(("P0300", "stored"),))
STAYS = {
    "intake_cam_rest_deg": 0.0,
    "intake_cam_target_deg": 30.0,
    "intake_cam_actual_deg": 2.0,
}
LITTLE = STAYS | {"intake_cam_target_deg": 6.0, "intake_cam_actual_deg": 0.0}
CAP = {"cap_start_kpa": 100.0, "cap_end_kpa": 60.0, "cap_minutes": 10.0}
DRAGS = {"starter_rpm": 100.0, "starter_battery_v": 10.8, "starter_v": 10.4}
SHORT = {"starter_rpm": 100.0, "starter_battery_v": 10.8, "starter_v": 8.8}
FREE = TestDone("bind", "good")
EVEN_AGAIN = {"repeat_shows": "even", "repeat_sync": "proved"}


def done(test, outcome="bad", cylinder=None, bank=None, **figures):
    return TestDone(test, outcome, cylinder, bank, figures=figures)


def least(figure, value):
    return {figure: Limit(least=value)}


def most(figure, value):
    return {figure: Limit(most=value)}


def limited(test, limits, cylinder=None, **figures):
    """Return a bad test by limits that were set."""
    return replace(done(test, cylinder=cylinder, **figures), limits=limits)


def cams(*off_deg, crank="clean"):
    """Return the trace of the cams by bank."""
    return tuple(
        done("cam_trace", "bad" if abs(d) > 5 else "good", bank=b, cam_off_deg=d, crank_trace=crank)
        for b, d in enumerate(off_deg, start=1)
    )


NOT_FELT = replace(ONE, counts={}, verified="no")
COUNTED_NONE = tuple(done("counts", "good", c, misfires=0.0) for c in (1, 2, 3, 4))


@pytest.mark.parametrize(
    ("evidence", "made", "cause"),
    [
        (
            ONE,
            (
                done("borescope", cylinder=2, scope_valves="oily"),
                done("leak_down", "good", 2, leak_percent=6.0),
            ),
            "stem_seals",
        ),
        (replace(NOT_FELT, has_frame=True), COUNTED_NONE, "counts_only"),
        (
            replace(MANY, engine=SIX),
            (
                done("oxygen", bank=1, sensor_answer="stays_lean"),
                done("oxygen", "good", bank=2, sensor_answer="both"),
            ),
            "mixture_bank",
        ),
        (ONE, (done("wiring", cylinder=2, connected_to="another"),), "crossed"),
        (MANY, (done("wiring", charging_v=12.1),), "supply_ground"),
        (MANY, (done("vacuum", needle="steady", purge_closed="better"),), "purge_open"),
        (MANY, (done("vacuum", needle="steady", charge_hoses="leak"),), "charge_air_lost"),
        (SLOW, (done("starter", **DRAGS), FREE), "starter"),
        (SLOW, (done("starter", **SHORT),), "supply_ground"),
        (MANY, (done("phaser", **STAYS, cam_feed="right"),), "phaser"),
        (MANY, (done("air_meter"), TestDone("exhaust", "good")), "air_meter"),
        (replace(MANY, engine=SIX), (done("oxygen"),), "mixture_bank"),
        (replace(MANY, engine=SIX), cams(0.5, 18.0), "cam_timing_bank"),
        (replace(MANY, engine=SIX), cams(18.0, 17.0), "cam_timing_all"),
        (MANY, cams(-18.0), "cam_timing_all"),
        (MANY, (done("cam_trace", bank=1, crank_trace="gaps"),), "crank_signal"),
        # the injector is at fault, and an injector leaks
        (
            replace(ONE, swaps=(SwapDone("injector", 2, 1, "yes"),)),
            (done("fuel_press", rest_kpa=400.0, held_kpa=180.0, held_minutes=10.0),),
            "injector_leaking",
        ),
        (ONE, (done("borescope", cylinder=2, scope_valves="deposits"),), "intake_deposits"),
        (ONE, (done("borescope", cylinder=2, scope_chamber="carbon"),), "carbon"),
        (ONE, (done("borescope", cylinder=2, scope_chamber="liquid"),), "liquid"),
        (ONE, (done("valves", cylinder=2, valve_return="slow"),), "valve_sticks"),
        (WEAK, (done("repeat", repeat_shows="some_cycles"),), "valve_sticks"),
        (WEAK, (done("repeat", "good", **EVEN_AGAIN),), "misread"),
        (WEAK, (done("sync", sync_shows="other"),), "misread"),
        (replace(MANY, fuel="diesel"), (done("vacuum"),), "charge_air_lost"),
        (ONE, (done("coolant", **CAP, gas="changed"),), "coolant_leak"),
        (
            replace(ONE, fuel="diesel"),
            (done("injector", cylinder=2, correction_mg=6.0),),
            "injector_diesel",
        ),
        (
            MANY,
            (limited("fuel_press", least("load_kpa", 380.0), rest_kpa=400.0, load_kpa=370.0),),
            "fuel_supply",
        ),
        (
            ONE,
            (limited("valves", least("intake_clearance_mm", 0.2), 2, intake_clearance_mm=0.1),),
            "valve_clearance",
        ),
    ],
)
def test_a_record_shows_its_cause(evidence, made, cause):
    assert standing(plan_for(evidence), cause) != "shown"
    assert standing(plan_for(replace(evidence, done=made)), cause) == "shown"


@pytest.mark.parametrize(
    ("evidence", "made", "cause"),
    [
        # the engine may turn hard itself
        (SLOW, (done("starter", **DRAGS),), "starter"),
        # the other bank was not traced
        (replace(MANY, engine=SIX), cams(18.0), "cam_timing_bank"),
        # the other bank's cam has no figure, or one by a crank with gaps
        (
            replace(MANY, engine=SIX),
            (*cams(18.0), done("cam_trace", "good", bank=2, crank_trace="clean")),
            "cam_timing_bank",
        ),
        (
            replace(MANY, engine=SIX),
            (*cams(18.0), done("cam_trace", bank=2, cam_off_deg=1.0, crank_trace="gaps")),
            "cam_timing_bank",
        ),
        # only one bank of an engine that nobody knows was traced
        (replace(MANY, engine=EngineFacts()), cams(1.0, 18.0)[1:], "cam_timing_all"),
        # the oil is put right first
        (MANY, (done("phaser", **STAYS, cam_feed="oil"),), "phaser"),
        # asked to move too little, or nobody knows from where
        (MANY, (done("phaser", **LITTLE, cam_feed="right"),), "phaser"),
        (
            MANY,
            (done("phaser", **(STAYS | {"intake_cam_rest_deg": ""}), cam_feed="right"),),
            "phaser",
        ),
        # a hose that leaks lets the pressure fall as well
        (ONE, (done("coolant", **CAP),), "coolant_leak"),
        # it gives a weak cylinder more, whatever the injector does
        (
            replace(WEAK, fuel="diesel"),
            (done("injector", cylinder=2, correction_mg=6.0),),
            "injector_diesel",
        ),
        # it falls, and keeps what the manufacturer asks for under load
        (
            MANY,
            (limited("fuel_press", least("load_kpa", 300.0), rest_kpa=400.0, load_kpa=340.0),),
            "fuel_supply",
        ),
        # too wide is not too tight
        (
            ONE,
            (limited("valves", most("intake_clearance_mm", 0.3), 2, intake_clearance_mm=0.5),),
            "valve_clearance",
        ),
        # cranked warm, and the first one was not known to be
        (WEAK, (replace(done("repeat", "good", **EVEN_AGAIN), is_warm=True),), "misread"),
        # nobody looked after oil and supply
        (MANY, (done("phaser", **STAYS),), "phaser"),
        # a blocked exhaust lets too little air in as well
        (MANY, (done("air_meter"),), "air_meter"),
        # the first one had it too: that the sync was right nobody says
        (WEAK, (done("repeat", "good", repeat_shows="even"),), "misread"),
        # a cylinder that comes and goes is good at times
        (
            replace(WEAK, patterns=frozenset({Pattern.COMES_AND_GOES})),
            (done("repeat", "good", **EVEN_AGAIN),),
            "misread",
        ),
        # oil in a cylinder comes past the rings as well
        (ONE, (done("borescope", cylinder=2, scope_valves="oily"),), "stem_seals"),
        # the sensors of both banks are not the fault of one
        (
            replace(MANY, engine=SIX),
            tuple(done("oxygen", bank=b, sensor_answer="stays_lean") for b in (1, 2)),
            "mixture_bank",
        ),
        # felt, or not looked up where it was stored, or counted on some cylinders only
        (NOT_FELT, COUNTED_NONE, "counts_only"),
        (replace(NOT_FELT, has_frame=True), COUNTED_NONE[:3], "counts_only"),
        (replace(NOT_FELT, has_frame=True, verified="yes"), COUNTED_NONE, "counts_only"),
    ],
)
def test_a_record_that_leaves_something_open_shows_nothing(evidence, made, cause):
    after = plan_for(replace(evidence, done=made))
    assert standing(after, cause) != "shown"


@pytest.mark.parametrize(
    ("other", "found"),
    [
        ({"supply_drop_v": 0.1}, ["drop_here"]),
        ({"supply_drop_v": 1.4}, ["drop"]),
        # a ground that is right says nothing of the supply
        ({"ground_drop_v": 0.05}, ["bad"]),
    ],
)
def test_a_drop_is_compared_on_its_own_side(other, found):
    rows = (done("wiring", cylinder=2, supply_drop_v=1.2), done("wiring", "good", 1, **other))
    assert outcomes(replace(ONE, done=rows), "wiring") == found


FOLLOWS = STAYS | {"intake_cam_actual_deg": 29.0, "cam_feed": "right"}


@pytest.mark.parametrize(
    ("test", "cause", "telling", "other"),
    [
        ("fuel_press", "fuel_supply", {"load_kpa": 390.0}, {"rest_kpa": 400.0, "held_kpa": 390.0}),
        ("exhaust", "exhaust_blocked", {"back_fast_kpa": 9.0}, {"back_idle_kpa": 3.0}),
        ("vacuum", "false_air_common", {"smoke_at": "nowhere"}, {"recirculation_closed": "same"}),
        ("cam_trace", "cam_timing_all", {"cam_off_deg": 1.0}, {"crank_trace": "clean"}),
        ("borescope", "liquid", {"scope_chamber": "dry"}, {"scope_valves": "clean"}),
        ("air_meter", "air_meter", {"air_full_g_s": 100.0}, {"air_idle_g_s": 3.0}),
        ("valves", "lobe_worn", {"intake_lift_mm": 9.0}, {"intake_clearance_mm": 0.2}),
        ("phaser", "phaser", FOLLOWS, LITTLE | {"intake_cam_actual_deg": 6.0}),
        ("phaser", "phaser", FOLLOWS, {"cam_feed": "right"}),
    ],
)
def test_a_good_test_rules_out_only_by_a_figure_that_tells(test, cause, telling, other):
    at = {"cylinder": 2} if test in {"valves", "borescope"} else {}

    def after(figures):
        return standing(plan_for(replace(ONE, done=(done(test, "good", **at, **figures),))), cause)

    assert after({}) == "ruled_out"
    assert after(other | telling) == "ruled_out"
    assert after(other) != "ruled_out"


def test_trims_read_at_idle_alone_are_not_good():
    def read(**figures):
        return outcomes(replace(ONE, done=(done("trims", "good", bank=1, **figures),)), "trims")

    assert read(idle_short_percent=2.0, idle_long_percent=1.0) == []
    assert read(**sums(3.0, 2.0)) == ["good"]
    assert read() == ["good"]


def test_a_sync_that_was_proved_speaks_against_a_misread_capture():
    def share(*made):
        plan = plan_for(replace(WEAK, done=made))
        return next(c.share for c in plan.causes if c.key == "misread")

    assert share(done("sync", "good", sync_shows="proved")) < share()


@pytest.mark.parametrize("test", ["phaser", "oxygen", "cam_trace"])
def test_one_good_bank_says_nothing_of_the_other(test):
    six = replace(MANY, engine=SIX)
    good, bad = (TestDone(test, outcome, bank=b) for b, outcome in ((1, "good"), (2, "bad")))
    assert outcomes(replace(six, done=(good,)), test) == []
    assert outcomes(replace(six, done=(good, bad)), test) == ["bad"]
    both = (good, replace(good, bank=2))
    assert outcomes(replace(six, done=both), test) == ["good"]
    unread = (good, replace(bad, outcome="not_done"))
    assert outcomes(replace(six, done=unread), test) == ["good"]


def test_a_struck_valve_stops_the_engine():
    struck = replace(ONE, done=(done("borescope", cylinder=2, scope_valves="struck"),))
    plan = plan_for(struck)
    assert plan.stop
    assert keys(plan)[:2] == ["timing", "bind"]
    assert not {"repeat", "starter", "running"} & set(keys(plan))
    assert not plan_for(replace(struck, done=(*struck.done, FREE))).stop


COLD = replace(
    ONE,
    happens=frozenset({"cold"}),
    compression=Compression(result="even", temperature="warm"),
)


@pytest.mark.parametrize(
    ("temperature", "happens", "is_asked"),
    [
        ("warm", {"cold"}, True),
        ("hot", {"after_standing"}, True),
        ("cold", {"cold"}, False),
        ("", {"cold"}, False),
        ("warm", {"cold", "warm"}, False),
    ],
)
def test_what_happens_cold_only_is_cranked_cold(temperature, happens, is_asked):
    compression = replace(COLD.compression, temperature=temperature)
    plan = plan_for(replace(COLD, compression=compression, happens=frozenset(happens)))
    assert ("repeat_cold" in keys(plan)) is is_asked


def test_only_a_repeat_noted_as_cold_is_one():
    def after(is_warm):
        row = TestDone("repeat", "good", is_warm=is_warm)
        return replace(COLD, done=(row,))

    assert "repeat_cold" in keys(plan_for(after(None)))
    assert "repeat_cold" not in keys(plan_for(after(False)))
    assert outcomes(after(False), "repeat_cold") == ["good"]


def clue_keys(evidence):
    return {clue.key for clue in clues_in(evidence, focus_of(evidence))}


def test_a_freeze_frame_tells_when_where_nobody_said():
    frame = done("frame", "ambiguous", frame_rpm=750.0, frame_coolant_c=10.0)
    assert {"when_idle", "when_cold"} <= clue_keys(replace(ONE, done=(frame,)))
    said = replace(ONE, done=(frame,), happens=frozenset({"uphill", "warm"}))
    assert not {"when_idle", "when_cold"} & clue_keys(said)
    unfelt = replace(ONE, counts={}, verified="no")
    assert keys(plan_for(unfelt))[:2] == ["frame", "counts"]
    for read in (replace(unfelt, done=(frame,)), replace(unfelt, has_frame=True)):
        assert keys(plan_for(read))[0] == "counts"
    pending = replace(unfelt, codes=(("P0302", "pending"),))
    assert "frame" not in keys(plan_for(pending))


def test_nothing_is_moved_for_a_misfire_that_nobody_feels_and_nothing_counts():
    counted = replace(ONE, counts={1: 0, 2: 1, 3: 0, 4: 0}, verified="no")
    plan = plan_for(counted)
    assert not {"swap_coil", "swap_plug", "swap_injector"} & set(keys(plan))
    assert plan.causes[0].key == "counts_only"


def test_a_diesel_is_asked_how_it_injects_and_only_a_rail_is_read():
    diesel = Evidence(
        engine=FOUR, fuel="diesel", compression=EVEN, happens=frozenset({"accelerating"})
    )
    assert facts_that_matter(diesel) == ("injection",)
    assert not facts_that_matter(replace(diesel, injection="pump_line"))
    minutes = {
        kind: next(
            (
                t.minutes
                for t in plan_for(replace(diesel, injection=kind)).tests
                if t.key == "fuel_press"
            ),
            None,
        )
        for kind in ("common_rail", "pump_line")
    }
    assert minutes["common_rail"] == 10
    assert minutes["pump_line"] in {20, None}
    rough = replace(diesel, injection="pump_line", happens=frozenset({"always"}))
    assert not {"counts", "cut_out"} & set(keys(plan_for(rough)))
