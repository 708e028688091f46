"""Conditions of two captures side by side: every difference carries its caution."""

from dataclasses import replace

import pytest

from tests.wording import named, says, says_only
from traces.core.setup.conditions import Conditions, Cranked, condition_rows, not_noted_words

NOTED = Conditions(
    fuel_off=True, charger_off=True, throttle="closed", temperature="warm", battery_v=12.6
)
WENT = Cranked(rpm=210.0, cycles=9, level_a=150.0)


def rows(conditions=NOTED, cranked=WENT):
    return {r.label: r for r in condition_rows((NOTED, conditions), (WENT, cranked))}


def test_the_same_conditions_need_no_caution():
    assert not any(r.differs or r.caution for r in rows().values())


@pytest.mark.parametrize(
    ("changes", "label", "words"),
    [
        (
            {"temperature": "cold"},
            "Engine temperature",
            named("conditions.one-other-do-not", first="warm", second="cold"),
        ),
        (
            {"throttle": "open"},
            "Throttle",
            named("conditions.throttle-one-other-cylinders", first="closed", second="held open"),
        ),
        ({"fuel_off": False}, "Fuel off", named("conditions.fuel-off-only-one")),
        ({"charger_off": False}, "Charger off", named("conditions.charger-connected-only-one")),
        (
            {"battery_v": 11.9},
            "Battery before cranking",
            named("conditions.battery-stood-before-one", first="12.6 V", second="11.9 V"),
        ),
    ],
)
def test_a_difference_of_conditions_is_a_caution(changes, label, words):
    found = rows(conditions=replace(NOTED, **changes))
    assert found[label].differs
    assert says(found[label].caution, words)
    assert [r.label for r in found.values() if r.caution] == [label]


@pytest.mark.parametrize(
    ("changes", "label", "words"),
    [
        ({"rpm": 180.0}, "Cranking speed", "210 rpm and 180 rpm"),
        ({"level_a": 15.0}, "Mean current", "clamp's scale"),
        ({"cycles": 3}, "Engine cycles judged", "only 3 engine cycles"),
    ],
)
def test_how_it_was_cranked_is_a_caution(changes, label, words):
    found = rows(cranked=replace(WENT, **changes))
    assert words in found[label].caution
    assert [r.label for r in found.values() if r.caution] == [label]


def test_small_differences_are_shown_without_a_caution():
    found = rows(replace(NOTED, battery_v=12.5), Cranked(rpm=205.0, cycles=8, level_a=160.0))
    assert found["Battery before cranking"].second == "12.5 V"
    assert found["Cranking speed"].second == "205 rpm"
    assert not any(r.caution for r in found.values())


def test_what_was_not_noted_is_said_and_is_no_difference():
    found = rows(conditions=Conditions())
    assert [
        found[k].second for k in ("Engine temperature", "Throttle", "Fuel off", "Charger off")
    ] == ["not noted"] * 4
    assert not any(r.differs for r in found.values())


def test_what_is_not_noted_is_one_sentence():
    one = condition_rows((NOTED, replace(NOTED, throttle="", battery_v=None)), (WENT, WENT))
    (told,) = not_noted_words(one)
    assert says_only(
        told, "conditions.not-noted-both-what", names="throttle and battery before cranking"
    )
    assert not_noted_words(condition_rows((NOTED, NOTED), (WENT, WENT))) == ()
