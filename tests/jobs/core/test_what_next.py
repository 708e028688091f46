"""Vehicles worked by hand: the first three tests that an order asks for, in their order.

The rule behind each stands beside it; all are common practice where no other source is named.
What each test tells for what it costs: look for liquid, cooling system, codes and data, a second
capture, then leak-down and borescope on the named cylinder, then the full set of gauges.
"""

from dataclasses import dataclass, field

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import Family, layout_of
from engines.core.positions import Numbering, places_by_numbering
from jobs.core.coolant_loss import loses_coolant
from jobs.core.pattern_meanings import MEANINGS
from jobs.core.patterns import Pattern, Seen, patterns_in
from jobs.core.tests_wanted import CRANKS_THE_ENGINE, Circumstances, all_wanted, timing_in_doubt


@dataclass(frozen=True)
class Car:
    """A vehicle as far as the next tests hang on it."""

    layout: str
    order: str
    numbering: Numbering = Numbering.FRONT
    fuel: str = "petrol"
    low: tuple[int, ...] = ()
    high: tuple[int, ...] = ()
    codes: tuple[str, ...] = ()
    words: str = ""
    captures: int = 1
    seen: dict = field(default_factory=dict)

    def read(self):
        order = FiringOrder.parse(self.order)
        places = places_by_numbering(layout_of(self.layout), len(order), self.numbering)
        return patterns_in(
            Seen(
                low=frozenset(self.low),
                high=frozenset(self.high),
                order=order,
                places=places,
                **self.seen,
            )
        )

    def on(self):
        order = FiringOrder.parse(self.order)
        return Circumstances(
            fuel=self.fuel,
            cylinders=len(order),
            is_flat=layout_of(self.layout).family is Family.FLAT,
            loses_coolant=loses_coolant([self.words]),
            high_unnumbered=bool(self.seen.get("high_unnumbered")),
            has_companions=bool(order.companions),
            codes=frozenset(self.codes),
            captures=self.captures,
        )

    def tests(self):
        return [t.key for t in all_wanted([r.pattern for r in self.read()], self.on())]


ALT = Numbering.ALTERNATING
V8 = ("V8", "1-8-4-3-6-5-7-2", ALT)
V6 = ("V6", "1-2-3-4-5-6", ALT)
I4, I6 = ("I4", "1-3-4-2"), ("I6", "1-5-3-6-2-4")
F4 = ("F4", "1-3-2-4", ALT)

CASES = {
    # one figure decides money: once more, then the named one beside an easy good one
    "one of four": (Car(*I4, low=(3,)), ["repeat_once", "leak_down", "borescope"]),
    "one of four, two captures agree": (
        Car(*I4, low=(3,), captures=2),
        ["leak_down", "borescope", "seats"],
    ),
    # coolant in a cylinder can lock the engine: nothing cranks before the cooling system was tested
    "one of four that loses coolant": (
        Car(*I4, low=(2,), words="Losing coolant, no leak seen."),
        ["coolant", "leak_down", "borescope"],
    ),
    "one of four, sweet white smoke": (
        Car(*I4, low=(2,), words="White smoke, sweet smell."),
        ["coolant", "leak_down", "borescope"],
    ),
    "one of six that ran hot by its code": (  # P0217: engine too hot (SAE J2012)
        Car(*I6, low=(5,), codes=("P0217",)),
        ["coolant", "leak_down", "borescope"],
    ),
    "one of six that never warms by its code": (  # P0128: low coolant does it too (SAE J2012)
        Car(*I6, low=(5,), codes=("P0128-00",)),
        ["coolant", "leak_down", "borescope"],
    ),
    # neighbours 360 degrees apart: a sync on the wrong turn maps them onto themselves; gasket first
    "2 and 3 of a four": (Car(*I4, low=(2, 3)), ["repeat_once", "leak_down", "neighbour"]),
    "3 and 4 of a six": (Car(*I6, low=(3, 4)), ["repeat_once", "leak_down", "neighbour"]),
    "3 and 4 of a six that loses coolant": (
        Car(*I6, low=(3, 4), words="Uses coolant."),
        ["coolant", "leak_down", "neighbour"],
    ),
    "1 and 2 of a four": (Car(*I4, low=(1, 2)), ["repeat_once", "leak_down", "neighbour"]),
    # 360 degrees apart and no neighbours: a drag raises the other pair, on a four only
    "1 and 4 of a four": (Car(*I4, low=(1, 4)), ["repeat_once", "bind", "leak_down"]),
    "2 and 5 of a six": (Car(*I6, low=(2, 5)), ["repeat_once", "leak_down", "borescope"]),
    # 1 and 5 of 1-3-5-7: valve gear, cam, lifters, oil feed and timing of the bank they share
    "1 and 5 of a bank of four": (Car(*V8, low=(1, 5)), ["timing", "bind", "leak_down"]),
    "1 and 3 of a bank of four": (Car(*V8, low=(1, 3)), ["repeat_once", "leak_down", "neighbour"]),
    "a whole bank of a V8": (Car(*V8, low=(2, 4, 6, 8)), ["timing", "bind", "cam_trace"]),
    "a bank weaker as a whole": (
        Car(*V6, seen={"weaker_bank": frozenset({2, 4, 6})}),
        ["timing", "bind", "cam_trace"],
    ),
    "neighbours on both banks of a V6": (
        Car(*V6, low=(1, 2)),
        ["repeat_once", "timing", "leak_down"],
    ),
    # all low is invisible; fast and even is its sign: timing, and do not crank on
    "fast and even": (
        Car(*I4, seen={"fast_hints": ("The cranking sounds fast.",)}),
        ["timing", "bind", "cam_trace"],
    ),
    "all of a four": (Car(*I4, low=(1, 2, 3, 4)), ["timing", "bind", "cam_trace"]),
    # crank against cam (SAE J2012): bar over before anything cranks, whatever the pattern
    "one of six, cam against crank": (
        Car(*I6, low=(6,), codes=("P0016",)),
        ["timing", "bind", "cam_trace"],
    ),
    "one of six, cam against crank, with a failure type": (
        Car(*I6, low=(6,), codes=("P0016-76",)),
        ["timing", "bind", "cam_trace"],
    ),
    "one of six, engine position, coolant": (
        Car(*I6, low=(6,), codes=("P0008",), words="It overheats."),
        ["coolant", "timing", "bind"],
    ),
    "one of six, phaser code": (  # mostly oil or its valve: asks for data, forbids nothing
        Car(*I6, low=(6,), codes=("P0011",)),
        ["timing", "repeat_once", "leak_down"],
    ),
    # high: liquid, so look before cranking again; the companion's exhaust valve after that
    "one high": (Car(*I4, high=(2,)), ["stop", "borescope", "gauge_dry"]),
    "one high, one low": (Car(*I4, high=(2,), low=(4,)), ["stop", "borescope", "leak_down"]),
    "something high, no telling which": (
        Car(*I4, seen={"high_unnumbered": True}),
        ["stop", "borescope", "gauge_dry"],
    ),
    # two high 360 degrees apart: a bind once a turn before liquid, unless coolant is lost
    "two high a turn apart": (Car(*I4, high=(1, 4)), ["bind", "stop", "borescope"]),
    "two high a turn apart that lose coolant": (
        Car(*I4, high=(2, 3), words="Low coolant."),
        ["stop", "coolant", "bind"],
    ),
    # no oil in flat engines (it does not reach the whole ring) and diesels (it can lock them):
    # makers' service texts, as examples
    "neighbours of a flat four": (
        Car(*F4, low=(1, 3)),
        ["timing", "bind", "leak_down"],  # two are the whole bank too
    ),
    "one of a flat four": (Car(*F4, low=(2,)), ["repeat_once", "leak_down", "borescope"]),
    "one of a diesel four": (
        Car(*I4, fuel="diesel", low=(1,)),
        ["repeat_once", "leak_down", "borescope"],
    ),
    # even and misfires: the swap is the cheapest, then how it breathes; a diesel has no snap
    "even, misfires": (Car(*I4, seen={"misfires": True}), ["swap", "running", "exhaust"]),
    "even diesel, misfires": (
        Car(*I4, fuel="diesel", seen={"misfires": True}),
        ["swap", "exhaust", "gauge_dry"],
    ),
    "comes and goes": (
        Car(*I4, seen={"now_and_then": frozenset({2})}),
        ["repeat", "gauge_dry", "running"],
    ),
    "low at first": (
        Car(*I4, seen={"at_first": frozenset({2})}),
        ["repeat_at_once", "leak_down", "borescope"],
    ),
    # not settled which: the sync first; coolant before it
    "1 or 4 of a four": (
        Car(*I4, low=(1, 4), seen={"is_open": True}),
        ["sync", "gauge_dry", "leak_down"],
    ),
    # one of two pairs of neighbours: the sync says which, the gasket is asked for all the same
    "1 and 2 or 3 and 4 of a four": (
        Car(
            *I4,
            low=(1, 2, 3, 4),
            seen={"is_open": True, "sets": (frozenset({1, 2}), frozenset({3, 4}))},
        ),
        ["sync", "leak_down", "neighbour"],
    ),
    "1 or 4 of a four that loses coolant": (
        Car(*I4, low=(1, 4), words="Loosing coolant", seen={"is_open": True}),
        ["coolant", "sync", "leak_down"],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_first_three_tests(name):
    car, wanted = CASES[name]
    assert car.tests()[:3] == wanted


@pytest.mark.parametrize("name", CASES)
def test_what_may_not_crank_is_not_cranked_first(name):
    car, _ = CASES[name]
    keys = car.tests()
    cranks = [keys.index(key) for key in keys if key in CRANKS_THE_ENGINE]
    before = {
        "stop": car.high or car.seen.get("high_unnumbered"),
        "coolant": car.on().coolant_first,
    }
    before["bind"] = timing_in_doubt([r.pattern for r in car.read()], car.on())
    for key in (key for key, needed in before.items() if needed):
        assert all(keys.index(key) < at for at in cranks), key
    if car.fuel == "diesel" or car.on().is_flat:
        assert "gauge_wet" not in keys


def test_one_and_five_of_a_bank_of_four_read_same_bank():
    assert [r.pattern for r in CASES["1 and 5 of a bank of four"][0].read()] == [Pattern.SAME_BANK]
    # its name holds for three of a row, of which two are neighbours, as well
    assert "side by side" not in MEANINGS[Pattern.SAME_BANK].name


def test_a_five_has_no_companion_whose_exhaust_valve_could_stay_shut():
    five = Car("I5", "1-2-4-5-3", high=(2,))
    assert "exhaust_lift" not in five.tests()
    assert "exhaust_lift" in Car(*I4, high=(2,)).tests()


@pytest.mark.parametrize("fuel", ["petrol", "diesel"])
def test_a_diesel_is_asked_for_nothing_that_it_does_not_have(fuel):
    words = " ".join(
        t.words
        for pattern in Pattern
        for t in all_wanted([pattern], Circumstances(fuel=fuel, captures=1))
    )
    for part in ("throttle wide open", "coil grounded", "{idle} at idle"):
        assert (part in words) is (fuel == "petrol")
