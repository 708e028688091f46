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
        # what people write: spellings, and the signs of a leaking gasket (common practice)
        "losing coolant",
        "Loosing coolant, no leak seen",
        "low coolant",
        "Coolent level low",
        "anti freeze needs topping-up",
        "Cooling fluid drops between services",
        "Expansion tank empty after a week",
        "White smoke, sweet smell",
        "Exhaust smells sweet when cold",
        "Overheats in traffic",
        "It was over-heating on the hill",
        "It over heats",
        "Ran very hot last week",
        "Boiled over on Sunday",
        "Temperature gauge goes into the red",
        "Milky oil under the cap",
        "Bubbles in the header tank",
        "Head gasket was done last year",
        "We topped the coolant up twice",
        "I keep topping the water up",
        "Have to put water in every week",
        "Pours water in the radiator",
        "Filled the radiator up again",
        "The header tank was dry",
        "Had to fill the expansion tank",
        "Puddle of coolant under the car",
        "Coolant on the carpet, the heater leaks coolant",
        "Drips antifreeze on the drive",
        "Coolant light came on",
        "The coolant warning lamp is on",
        "The temperature goes up on the motorway",
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
        "Water leaks into the footwell",
        "Windscreen washer leaks water in the boot",
        "Needs a new water pump belt",
        "Put a new radiator in last year",
        "Filled up with fuel, water in the diesel",
        "Topped the oil up",
        "The coolant light never came on",
        "Bucks in the wet, stalled in deep water.",
        "Coolant was changed.",
        "Low power uphill, water pump is new.",
        "Loses power.",
        "Never overheats.",
        "It doesn't overheat",
        "Misfires when it gets hot.",
        "Started again while hot, it stalls.",
        "White smoke for a second after a cold start.",
        "Low oil pressure at idle, coolant was flushed.",
        "Adds nothing below 2000 rpm.",
    ],
)
def test_other_words_say_nothing(words):
    assert not loses_coolant([words])


def test_the_warning_light_counts():
    assert loses_coolant([], ["engine", "coolant"])
    assert not loses_coolant([], ["engine"])
