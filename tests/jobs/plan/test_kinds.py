"""Kinds by which the plan parted from a technician: what a clue or a record says, and what not."""

from dataclasses import replace

import pytest

from jobs.core.plan import Evidence, Said, plan_for
from jobs.core.plan.focus import focus_of
from tests.jobs.plan.test_plan import EVEN, ONE, SIX, keys, outcomes, standing
from tests.jobs.plan.test_recorded import MANY, clue_keys, done


def test_leads_and_drops_are_told_apart_in_one_record():
    counts = {1: 120, 2: 130, 3: 1, 4: 0}
    touched = replace(ONE, counts=counts, said=Said(ignition_work=True))
    followed = replace(touched, done=(done("wiring", "good", connected_to="own"),))
    assert standing(plan_for(followed), "crossed") == "ruled_out"
    assert not outcomes(followed, "wiring")
    measured = replace(touched, done=(done("wiring", "good", supply_drop_v=0.1),))
    assert standing(plan_for(measured), "crossed") != "ruled_out"
    assert "leads" in keys(plan_for(measured))
    assert "leads" not in keys(plan_for(followed))


def test_a_charge_that_is_right_says_nothing_of_wires():
    made = replace(MANY, done=(done("wiring", "good", charging_v=14.2),))
    assert not outcomes(made, "wiring")


@pytest.mark.parametrize(
    ("codes", "clue"),
    [
        (("P0352",), "code_coil"),
        (("P0352", "P0353"), "code_coils"),
        (("P0202",), "code_injector"),
        # two codes of one injector
        (("P0202", "P0264"), "code_injector"),
        (("P0202", "P0203"), "code_injectors"),
        (("P0131",), "code_oxygen"),
        (("P0299",), "code_boost"),
        (("P0496",), "code_purge"),
        (("P0231",), "code_pump"),
        (("P0172",), "code_rich"),
        (("P0175",), "code_rich_bank"),
    ],
)
def test_a_code_says_what_it_is_about(codes, clue):
    evidence = replace(ONE, codes=tuple((code, "stored") for code in codes))
    of_codes = {key for key in clue_keys(evidence) if key.startswith("code_")}
    assert of_codes == {clue}


def test_one_that_stands_out_of_many_names_nobody():
    counts = {1: 8, 2: 11, 3: 9, 4: 30, 5: 13, 6: 10}
    evidence = Evidence(engine=SIX, compression=EVEN, counts=counts)
    assert not focus_of(evidence).cylinders
    assert focus_of(replace(evidence, counts=counts | {1: 1})).cylinders == (4,)
    assert "counted_not_felt" in clue_keys(replace(evidence, verified="no"))
    assert "counted_not_felt" not in clue_keys(evidence)


def test_a_frame_of_the_initial_checks_says_when():
    frames = ({"frame_rpm": 760.0, "frame_coolant_c": 20.0},)
    assert {"when_idle", "when_cold"} <= clue_keys(replace(ONE, frames=frames))
    said = replace(ONE, frames=frames, happens=frozenset({"uphill", "warm"}))
    assert not {"when_idle", "when_cold"} & clue_keys(said)
