"""Which cylinder is which: the event's place against top dead centre."""

import pytest

from engines.core.firing import FiringOrder
from traces.core.twin.labels import label_of

FOUR = FiringOrder.parse("1-3-4-2")
TWELVE = FiringOrder.parse("1-7-5-11-3-9-6-12-2-8-4-10")
UNEVEN = FiringOrder.parse("1-6-5-4-3-2", [0, 150, 240, 390, 480, 630])


@pytest.mark.parametrize("order", [FOUR, TWELVE, UNEVEN])
def test_spark_near_top_dead_centre_is_sure(order):
    # spark while cranking comes 5 to 10 degrees before top dead centre (from memory)
    for off in (5.0, 10.0, 15.0):
        assert label_of(order, "ignition", off).confidence > 0.99


def test_spark_half_a_gap_away_is_not():
    assert label_of(TWELVE, "ignition", 39.0).confidence < 0.6


def test_spark_nearer_the_next_firing_speaks_for_that_one():
    assert label_of(TWELVE, "ignition", 55.0).confidence < 0.05


def test_a_cam_edge_says_less_than_a_spark():
    cam, spark = (label_of(TWELVE, event, 25.0).confidence for event in ("cam", "ignition"))
    assert cam < 0.95 < spark


def test_uneven_gaps_count_on_their_own_side():
    late, early = (label_of(UNEVEN, "cam", off).confidence for off in (40.0, -30.0))
    # the firing before is 90 degrees away, the one after 150
    assert late < 0.99 < early
