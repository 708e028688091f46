"""What the initial checks ask for at once, by complaint, codes and fuel (common practice)."""

import pytest

from jobs.core.triage_questions import ALWAYS, JobAtHand, questions_for

_TIMING = {"timing_work", "timing_work_odometer", "timing_work_on"}
_FUEL = {"fuel_work", "fuel_work_odometer", "fuel_work_on"}


def asked(**known) -> set[str]:
    return set(questions_for(JobAtHand(**known)).asked) - set(ALWAYS)


def test_a_job_without_anything_asks_for_both_levels_alone():
    found = questions_for(JobAtHand())
    assert found.asked == ("oil_level", "coolant_level")
    assert "timing_work" in found.folded


@pytest.mark.parametrize(
    ("known", "fields"),
    [
        ({"codes": frozenset({"P0302"})}, {"plugs_age"}),
        ({"codes": frozenset({"P0351-13"})}, {"plugs_age"}),
        ({"warning_lights": frozenset({"engine_flashing"})}, {"plugs_age"}),
        ({"happens": frozenset({"wet"})}, {"plugs_age"}),
        ({"codes": frozenset({"P0016"})}, _TIMING),
        ({"codes": frozenset({"P0340"})}, _TIMING),
        ({"cranks": "fast"}, _TIMING),
        ({"happens": frozenset({"after_fuel"})}, _FUEL),
        ({"codes": frozenset({"P0171"})}, _FUEL),
        ({"codes": frozenset({"P0172"})}, _FUEL | {"fuel_in_oil"}),
        ({"codes": frozenset({"P0263"})}, _FUEL),
        ({"happens": frozenset({"starting"})}, {"fuel_in_oil"}),
        ({"happens": frozenset({"cold"})}, {"oil_loss", "coolant_loss"}),
        ({"warning_lights": frozenset({"oil_pressure"})}, {"oil_loss"}),
        ({"warning_lights": frozenset({"coolant"})}, {"coolant_loss"}),
        ({"codes": frozenset({"P0217"})}, {"coolant_loss"}),
        ({"says_coolant": True}, {"coolant_loss"}),
        ({"fuel": "diesel"}, {"fuel_in_oil"}),
        ({"fuel": "diesel", "codes": frozenset({"P0302"})}, {"fuel_in_oil"}),
        ({"has_banks": True}, {"direction", "bank_a_side"}),
        ({"codes": frozenset({"P0420"})}, set()),
        ({"codes": frozenset({"P0030", "P0500"})}, set()),
    ],
)
def test_what_makes_a_job_ask_for_more(known, fields):
    assert asked(**known) == fields


def test_a_diesel_is_not_asked_for_plugs_and_a_single_row_not_for_banks():
    assert questions_for(JobAtHand(fuel="diesel")).left_out == ("plugs_age", "bank_a_side")
    assert questions_for(JobAtHand(fuel="petrol")).left_out == ("bank_a_side",)
    assert questions_for(JobAtHand(has_banks=True)).left_out == ()


@pytest.mark.parametrize("fuel", ["petrol", "diesel", ""])
@pytest.mark.parametrize("has_banks", [True, False])
def test_every_question_stands_in_one_place(fuel, has_banks):
    found = questions_for(JobAtHand(fuel=fuel, has_banks=has_banks, cranks="fast"))
    every = [*found.asked, *found.folded, *found.left_out]
    assert len(every) == len(set(every)) == 14
