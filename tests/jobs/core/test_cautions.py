"""Cautions are there wherever work can hurt someone, and give way to the maker's."""

import pytest

from jobs.core.cautions import Fluids, method_notice, work_cautions
from tests.wording import says
from traces.core.setup.cautions import (
    BY_ITSELF,
    CRANK,
    DEFER,
    DIESEL,
    PEDAL,
    PETROL,
    REST_BATTERY,
    STOP_START,
    SYNC_LOST,
    capture_cautions,
)

DRIVES = ["starter", "belt", "traction"]


@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
@pytest.mark.parametrize("drive", DRIVES)
def test_the_makers_procedure_comes_first(fuel, drive):
    for found in (work_cautions(fuel, drive), capture_cautions(fuel, drive)):
        assert found[0] == DEFER
        assert len(set(found)) == len(found)
        assert any("Parking brake" in s for s in found)
        assert any("10 to 15 seconds" in s for s in found)


def test_fuel_changes_the_words():
    petrol, diesel = (" ".join(work_cautions(f, "starter")) for f in ("petrol", "diesel"))
    assert "Fuel vapour ignites" in petrol
    assert "rail pressure" in diesel
    assert "lock the engine" in diesel


@pytest.mark.parametrize("drive", ["belt", "traction"])
def test_high_voltage_is_for_trained_people_only(drive):
    found = " ".join(work_cautions("petrol", drive))
    assert "trained and authorised" in found
    assert "trained and authorised" not in " ".join(work_cautions("petrol", "starter"))


@pytest.mark.parametrize("drive", DRIVES)
def test_stop_start_is_warned_of_whatever_cranks_the_engine(drive):
    # ordinary starters do stop-start too (common practice)
    assert BY_ITSELF in work_cautions("petrol", drive)
    assert BY_ITSELF in capture_cautions("diesel", drive)


@pytest.mark.parametrize("drive", DRIVES)
def test_what_is_known_of_stop_start_changes_the_words(drive):
    for found in (
        work_cautions("petrol", drive, stop_start="yes"),
        capture_cautions("diesel", drive, "yes"),
    ):
        assert STOP_START in found
        assert BY_ITSELF not in found
    # only an ordinary starter without stop-start waits for the key
    for found in (
        work_cautions("petrol", drive, stop_start="no"),
        capture_cautions("diesel", drive, "no"),
    ):
        assert (BY_ITSELF in found) == (drive != "starter")


def test_oil_and_coolant_come_right_after_the_makers_word():
    fluids = Fluids(oil_level="high", fuel_in_oil="yes", coolant_loss="yes")
    first, oil, coolant, *others = work_cautions("diesel", "starter", fluids=fluids)
    assert first == DEFER
    assert says(oil, "jobs/cautions:oil_high_with_fuel.text")
    assert says(coolant, "jobs/cautions:coolant_loss.text")
    assert [first, *others] == list(work_cautions("diesel", "starter"))


def test_fuel_is_off_for_every_capture_and_ignition_is_live_for_the_sync_only():
    # common practice; one maker's crank sensor, unplugged, stops both (service text, example)
    assert {PETROL, SYNC_LOST, PEDAL} <= set(capture_cautions("petrol", "starter"))
    assert {PETROL, SYNC_LOST, PEDAL} <= set(capture_cautions("gas", "starter"))
    assert not {PETROL, SYNC_LOST, PEDAL} & set(capture_cautions("diesel", "starter"))
    assert DIESEL in capture_cautions("diesel", "starter")


def test_bursts_are_short_and_the_starter_rests():
    # common practice: 6 to 8 cycles take 4 to 5 s at 90 to 100 cycles a minute
    for figure in ("4 to 5 seconds", "6 to 8 engine cycles", "10 to 15 seconds", "30 seconds"):
        assert figure in CRANK


def test_timing_in_doubt_is_a_caution():
    plain = set(work_cautions("petrol", "starter"))
    (added,) = set(work_cautions("petrol", "starter", timing_in_doubt=True)) - plain
    assert "barred over" in added


def test_no_caution_is_told_from_memory():
    for fuel in ("petrol", "diesel"):
        for drive in DRIVES:
            found = " ".join((*work_cautions(fuel, drive), *capture_cautions(fuel, drive)))
            assert "memory" not in found


def test_liquid_is_named_before_all_else_but_the_makers_word():
    assert "liquid" in work_cautions("petrol", "starter", any_high=True)[1]


def test_no_caution_gives_a_disabling_step():
    # The tool does not give disabling or high-voltage steps itself.
    for drive in DRIVES:
        text = " ".join((*work_cautions("petrol", drive), *capture_cautions("diesel", drive)))
        for step in ("pull the", "remove the", "relay", "unplug", "service plug", "disconnect the"):
            assert step not in text.lower()


def test_where_the_method_does_not_apply():
    assert method_notice("starter") is None
    assert "does not apply" in str(method_notice("traction"))
    assert "Ask first" in str(method_notice("belt"))


def test_where_fuel_and_drive_are_not_known_all_is_said():
    found = " ".join(capture_cautions(None, None))
    for words in ("Hybrid or electric: ask first", "trained and authorised", "rail pressure"):
        assert words in found
    assert says(found, "traces/cautions:petrol.text")


def test_cranking_is_worded_once_for_capture_and_work_order():
    capture_only = {SYNC_LOST, PEDAL, REST_BATTERY}
    shared = set(capture_cautions("petrol", "belt")) - capture_only
    assert shared <= set(work_cautions("petrol", "belt"))
