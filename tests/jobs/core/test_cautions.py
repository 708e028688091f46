"""Cautions are there wherever work can hurt someone, and give way to the maker's."""

import pytest

from jobs.core.cautions import method_notice, work_cautions
from traces.core.cautions import DEFER, capture_cautions

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
    assert "may start by itself" in found
    assert "trained and authorised" not in " ".join(work_cautions("petrol", "starter"))


def test_liquid_is_named_before_all_else_but_the_makers_word():
    assert "liquid" in work_cautions("petrol", "starter", any_high=True)[1]


def test_no_caution_gives_a_disabling_step():
    # The tool does not give disabling or high-voltage steps itself.
    for drive in DRIVES:
        text = " ".join((*work_cautions("petrol", drive), *capture_cautions("diesel", drive)))
        for step in ("fuse", "relay", "unplug", "service plug", "disconnect the"):
            assert step not in text.lower()


def test_where_the_method_does_not_apply():
    assert method_notice("starter") is None
    assert "does not apply" in str(method_notice("traction"))
    assert "Ask first" in str(method_notice("belt"))


def test_where_fuel_and_drive_are_not_known_all_is_said():
    found = " ".join(capture_cautions(None, None))
    for words in ("Hybrid or electric: ask first", "trained and authorised", "rail pressure"):
        assert words in found
    assert "coil and injector voltages" in found


def test_cranking_is_worded_once_for_capture_and_work_order():
    shared = set(capture_cautions("petrol", "belt"))
    assert shared <= set(work_cautions("petrol", "belt"))
