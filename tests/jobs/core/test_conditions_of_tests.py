"""What a test has to be done under, and what has to be minded: each condition with its source.

Without its condition a test misleads, so that each is held here by the word that carries it.
"""

import pytest

from jobs.core.cautions import work_cautions
from jobs.core.patterns import Pattern
from jobs.core.tests_wanted import Circumstances, all_wanted
from jobs.core.wanted_test_texts import LONGEST_WORDS
from traces.core.setup.cautions import capture_cautions

PETROL = Circumstances(cylinders=6, loses_coolant=True, codes=frozenset({"P0016"}), captures=1)
CONDITIONS = [
    # FAA AC 43.13-1B ch. 8: piston at top dead centre of the compression stroke, crank held
    ("leak_down", ("TDC of compression", "both valves closed", "crank held")),
    # common practice: backlash of rings and gears, so from both sides; engine warm, throttle open
    ("leak_down", ("both sides", "warm", "throttle wide open", "coolant full")),
    # makers' service texts, as an example: an open breather reads as a leaking intake valve
    ("leak_down", ("filler cap off", "breather shut off from the intake")),
    # common practice: the one named beside an easy good one
    ("leak_down", ("named cylinder", "good one")),
    # common practice: the gasket is looked for before anything cranks
    ("coolant", ("pressure-test", "combustion gas", "before the engine is cranked")),
    # a maker's text, as an example: at least four strokes, and how the pressure builds
    ("gauge_dry", ("at least four strokes", "first and last puff", "throttle wide open")),
    ("bank_gauge", ("at least four strokes", "each bank", "manufacturer's figure")),
    # about 1 % of the swept volume: 5 ml lift a half litre of 10.5 to 1 by 13 % (calculated)
    ("gauge_wet", ("about 1 %", "5 ml for 0.5 litre", "a good one as control")),
    # common practice: idle and snap, that cylinder without fuel and its coil safe
    ("running", ("idle and snap", "injector unplugged", "coil grounded")),
    # AERA Technical Committee, bulletin on exhaust back pressure, filled in when it is ordered
    ("exhaust", ("{idle} at idle", "{fast} at 2000 rpm")),
    # SAE J2012 for the codes; covers come off last (common practice)
    ("timing", ("P0008 to P0025", "phasers")),
    ("cam_trace", ("known-good", "window", "covers come off last")),
    # common practice: an interference engine bends its valves
    ("bind", ("do not crank", "two turns", "direction of rotation", "Stop at any contact")),
    # charts of battery makers: 12.4 V are 75 % of the charge
    ("repeat_once", ("12.4 V", "sync verified")),
    ("vacuum", ("Cranking vacuum", "in-cylinder pressure trace")),
    ("valves", ("clearance", "lift of each valve")),
    ("seats", ("plug, glow plug and injector",)),
]


def _words(key):
    on = (PETROL, Circumstances(cylinders=6, captures=1))
    found = [
        test.words
        for one in on
        for pattern in Pattern
        for test in all_wanted([pattern], one)
        if test.key == key
    ]
    assert found, key
    return found


@pytest.mark.parametrize(("key", "conditions"), CONDITIONS)
def test_each_condition_stands_in_the_words_and_they_fit_the_sheet(key, conditions):
    assert any(all(part in words for part in conditions) for words in _words(key))
    assert max(map(len, _words(key))) <= LONGEST_WORDS


CAUTIONS = [
    # makers' service texts, as an example: cranking with fuel on washes bores, loads the catalyst
    ("Fuel disabled for every capture", "petrol", "both"),
    ("cranking with fuel on washes the bores and loads the catalyst", "petrol", "both"),
    # common practice: a coil fires into vapour at an open plug hole
    ("Ignition live only while it is the sync and every plug is in", "petrol", "both"),
    ("with any plug hole open both are off", "petrol", "both"),
    # one maker's text, as an example: without the crank sensor neither fires
    ("crank sensor or a wrong fuse", "petrol", "capture"),
    # common practice: flood clear is not on every car, and the throttle changes the humps
    ("Pedal to the floor cuts the fuel on some cars only", "petrol", "capture"),
    ("it changes the throttle: keep it the same in the captures", "petrol", "capture"),
    # charts of battery makers: 12.4 V are 75 % of the charge
    ("Battery at rest at 12.4 V or more before a capture", "any", "capture"),
    # makers' texts, as an example: ordinary starters do stop-start too
    ("key out of range and the system inhibited", "any", "both"),
    # typical; the starter maker's limit wins: 4 to 5 s are 6 to 8 cycles at 180 rpm
    ("4 to 5 seconds", "any", "both"),
    ("10 to 15 seconds the most", "any", "both"),
    ("rest 30 seconds, two minutes after two long ones", "any", "both"),
    ("the starter manufacturer's limit wins", "any", "both"),
    # FAA AC 43.13-1B ch. 8: the air turns the crank
    ("Leak-down air turns the crank", "any", "order"),
    # one maker of diesels forbids oil, which does not compress
    ("Too much oil in a cylinder can lock the engine", "diesel", "both"),
]


@pytest.mark.parametrize(("part", "fuel", "where"), CAUTIONS)
@pytest.mark.parametrize("drive", ["starter", "belt", "traction"])
def test_each_caution_stands_where_it_belongs_and_nowhere_else(part, fuel, where, drive):
    for burns in ("petrol", "gas", "diesel"):
        applies = fuel == "any" or (fuel == "diesel") == (burns == "diesel")
        order = part in " ".join(work_cautions(burns, drive))
        capture = part in " ".join(capture_cautions(burns, drive))
        assert order is (applies and where in {"both", "order"}), burns
        assert capture is (applies and where in {"both", "capture"}), burns
