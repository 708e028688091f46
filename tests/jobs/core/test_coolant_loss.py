"""Which words say that coolant is lost."""

import pytest

from jobs.core.coolant_loss import loses_coolant


@pytest.mark.parametrize(
    "words",
    [
        "Loses coolant and runs on less than six.",
        "It is losing a lot of water.",
        "Coolant keeps disappearing.",
        "Two soft compressions; coolant below minimum.",
        "Topping up the coolant every week.",
        "Coolant loss, no leak found.",
        "Low on antifreeze",
        "No power. Uses coolant.",
        "COOLANT WAS LOW",
        "No power and uses coolant",
    ],
)
def test_a_loss_is_understood(words):
    assert loses_coolant([words])


@pytest.mark.parametrize(
    "words",
    [
        "",
        "Does not lose coolant.",
        "Doesn't use water",
        "We never had to add coolant",
        "The coolant is not low.",
        "No loss of coolant, misfires.",
        "Bucks in the wet, stalled in deep water.",
        "Coolant was changed.",
        "Low power uphill, water pump is new.",
        "Loses power.",
    ],
)
def test_other_words_say_nothing(words):
    assert not loses_coolant([words])


def test_the_warning_light_counts():
    assert loses_coolant([], ["engine", "coolant"])
    assert not loses_coolant([], ["engine"])
