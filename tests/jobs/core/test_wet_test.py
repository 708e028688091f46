"""Wet tests against what oil does by itself, and makers' texts (examples, see the sources)."""

import pytest

from jobs.core.wet_test import OIL_SHARE, Wet, oil_lift, wet_read

ALONE = {2: (1, 3)}


@pytest.mark.parametrize(
    ("oil_ml", "swept_ml", "lift"),
    [
        # Clearance volume less the oil, p ~ (V / V_c) ** 1.3, compression ratio 10.5 (computed
        # by hand): 0.5 L and a third of a litre.
        (15, 500, 0.50),
        (15, 1000 / 3, 0.96),
        (5, 500, 0.13),
        (5, 1000 / 3, 0.20),
        (0, 500, 0.0),
    ],
)
def test_what_oil_alone_does(oil_ml, swept_ml, lift):
    assert oil_lift(oil_ml, swept_ml, 10.5) == pytest.approx(lift, abs=0.01)


def test_oil_that_fills_the_clearance_has_no_bound():
    assert oil_lift(60, 500, 10.5) == float("inf")
    with pytest.raises(ValueError, match="those of an engine"):
        oil_lift(5, 0)


def _meaning(dry, wet, neighbours=ALONE, **given):
    low = given.pop("low", set(dry))
    return {c: r.meaning for c, r in wet_read(dry, wet, neighbours, low=low, **given).items()}


def test_a_rise_over_the_controls_points_at_rings():
    # Makers' service texts (examples): rises = rings. 15 ml in both; the good one rose by 50 %.
    dry, oil = {1: 1200.0, 2: 400.0}, {1: 15.0, 2: 15.0}
    assert _meaning(dry, {1: 1800.0, 2: 1100.0}, low={2}, oil_ml=oil) == {2: Wet.RINGS}
    # (400 + 101.3) x (1850 + 101.3) / (1200 + 101.3) - 101.3 = 650 kPa by the oil alone
    read = wet_read(dry, {1: 1850.0, 2: 640.0}, ALONE, low={2}, oil_ml=oil)[2]
    assert read.meaning is Wet.VALVES
    assert read.control == 1
    assert read.expected_kpa == pytest.approx(650, abs=1)


def test_fifteen_ml_and_fifty_per_cent_without_a_control_is_ambiguous():
    assert _meaning({2: 600.0}, {2: 900.0}, oil_ml={2: 15.0}, swept_ml=500) == {2: Wet.AMBIGUOUS}
    assert _meaning({2: 600.0}, {2: 900.0}) == {2: Wet.AMBIGUOUS}
    assert _meaning({2: 600.0}, {2: 900.0}, oil_ml={2: 60.0}, swept_ml=500) == {2: Wet.AMBIGUOUS}


def test_more_than_the_oil_explains_points_at_rings_without_a_control():
    oil_ml = OIL_SHARE * 500
    assert _meaning({2: 600.0}, {2: 900.0}, oil_ml={2: oil_ml}, swept_ml=500) == {2: Wet.RINGS}


def test_a_cylinder_with_other_oil_is_no_control():
    dry, wet = {1: 1200.0, 2: 600.0}, {1: 1250.0, 2: 900.0}
    assert _meaning(dry, wet, low={2}, oil_ml={1: 5.0, 2: 15.0}) == {2: Wet.AMBIGUOUS}
    assert _meaning(dry, wet, low={2}, oil_ml={2: 15.0}) == {2: Wet.AMBIGUOUS}
    assert _meaning(dry, wet, low={2}, oil_ml={1: 15.0, 2: 15.0}) == {2: Wet.RINGS}


def test_oil_that_changes_nothing_points_at_valves():
    assert _meaning({2: 600.0}, {2: 620.0}) == {2: Wet.VALVES}


def test_two_unchanged_neighbours_point_at_the_gasket_between():
    neighbours = {1: (2,), 2: (1, 3), 3: (2, 4), 4: (3,)}
    both = _meaning({2: 400.0, 3: 420.0}, {2: 405.0, 3: 430.0}, neighbours)
    assert both == {2: Wet.GASKET_BETWEEN, 3: Wet.GASKET_BETWEEN}
    apart = _meaning({1: 400.0, 4: 420.0}, {1: 405.0, 4: 430.0}, neighbours)
    assert apart == {1: Wet.VALVES, 4: Wet.VALVES}
    one_rises = _meaning({2: 400.0, 3: 420.0}, {2: 405.0, 3: 700.0}, neighbours)
    assert one_rises == {2: Wet.VALVES, 3: Wet.AMBIGUOUS}


def test_a_cylinder_without_both_readings_says_nothing():
    assert _meaning({1: 500.0, 2: 500.0}, {2: 510.0}) == {2: Wet.VALVES}
