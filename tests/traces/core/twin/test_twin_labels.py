"""Which cylinder is which: the event's place against top dead centre."""

import pytest

from engines.core.firing import FiringOrder
from traces.core.crank.marking import CylinderMark, is_angle_known
from traces.core.twin.labels import label_of

FOUR = FiringOrder.parse("1-3-4-2")
TWELVE = FiringOrder.parse("1-7-5-11-3-9-6-12-2-8-4-10")
UNEVEN = FiringOrder.parse("1-6-5-4-3-2", [0, 150, 240, 390, 480, 630])


SPARK = CylinderMark(1, "ignition", "coil")


def _cam(angle_deg: float, spread_deg: float | None = None) -> CylinderMark:
    return CylinderMark(1, "cam", "cam", angle_deg, spread_deg)


def _confidence(order: FiringOrder, mark: CylinderMark, tdc_after_event_deg: float) -> float:
    return label_of(order, mark, tdc_after_event_deg).confidence


@pytest.mark.parametrize("order", [FOUR, TWELVE, UNEVEN])
def test_spark_near_top_dead_centre_is_sure(order):
    # spark while cranking comes 5 to 10 degrees before top dead centre (from memory)
    for off in (5.0, 10.0, 15.0):
        assert _confidence(order, SPARK, off) > 0.96


def test_spark_half_a_gap_away_is_not():
    assert _confidence(TWELVE, SPARK, 39.0) < 0.6


def test_spark_nearer_the_next_firing_speaks_for_that_one():
    assert _confidence(TWELVE, SPARK, 55.0) < 0.05


@pytest.mark.parametrize("order", [FOUR, TWELVE])
def test_the_firing_one_turn_away_is_weighed_too(order):
    # the only doubt left about a good spark; a twelve's neighbours are 60 degrees away
    odd_one_out = FiringOrder((1, 2, 3), (0.0, 240.0, 480.0))
    assert _confidence(odd_one_out, SPARK, 9.0) > 0.999
    assert 1 - _confidence(order, SPARK, 9.0) == pytest.approx(0.02, abs=0.003)


def test_spark_far_from_every_firing_is_doubted():
    assert _confidence(FOUR, SPARK, 9.0 + 24.0) < 0.95 < _confidence(FOUR, SPARK, 9.0 + 16.0)


@pytest.mark.parametrize("angle_deg", [-330.0, -95.0, -10.0, 60.0, 200.0, 390.0])
@pytest.mark.parametrize("order", [FOUR, TWELVE, UNEVEN])
def test_an_event_at_its_stated_angle_is_sure(order, angle_deg: float):
    # three degrees are the model's lag
    for off in (-8.0, 0.0, 8.0):
        assert _confidence(order, _cam(angle_deg), 3.0 - angle_deg + off) > 0.95


def test_an_event_beside_its_stated_angle_is_not():
    assert _confidence(FOUR, _cam(-330.0), 3.0 + 330.0 + 85.0) < 0.5
    assert _confidence(TWELVE, _cam(-330.0), 3.0 + 330.0 + 30.0) < 0.6
    assert _confidence(TWELVE, _cam(-330.0), 3.0 + 330.0 + 60.0) < 0.02


def test_a_sign_turned_round_is_seen():
    # 40 before entered as 40 after: on a three no firing is near, and the turned one is likelier
    order = FiringOrder.parse("1-2-3")
    assert _confidence(order, _cam(40.0), 3.0 - 40.0 - 40.0) < 0.5


def test_a_wide_spread_says_less():
    wide, narrow = (_confidence(TWELVE, _cam(-70.0, spread), 75.0) for spread in (25.0, 4.0))
    assert wide < 0.95 < narrow


def test_uneven_gaps_count_on_their_own_side():
    late, early = (_confidence(UNEVEN, _cam(0.0, 25.0), off) for off in (40.0, -30.0))
    # the firing before is 90 degrees away, the one after 150
    assert late < 0.95 < early


@pytest.mark.parametrize("event", ["cam", "injector"])
def test_without_an_angle_there_is_nothing_to_weigh(event):
    mark = CylinderMark(1, event, "coil")
    assert not is_angle_known(mark, "petrol")
    assert is_angle_known(mark, "diesel") == (event == "injector")
    with pytest.raises(ValueError, match="ties no cylinder"):
        label_of(FOUR, CylinderMark(1, "cam", "cam"), 0.0)


def test_an_edge_that_only_one_firing_fits_is_sure():
    label = label_of(FOUR, _cam(-95.0), 98.0, [60.0, 320.0])
    assert label.firings == (0,)
    assert label.confidence > 0.9


def test_edges_as_far_apart_as_firings_each_speak_for_one():
    label = label_of(TWELVE, _cam(-95.0), 98.0, [120.0, 300.0])
    assert set(label.firings) == {0, 2, 5}
    kept = CylinderMark(1, "cam", "cam", -95.0, 5.0, of_first_edge=True)
    assert label_of(TWELVE, kept, 98.0, [120.0, 300.0]).firings == (0,)


def test_a_pause_that_is_hardly_the_longest_says_nothing_of_the_edge():
    kept = CylinderMark(1, "cam", "B", -95.0, 5.0, of_first_edge=True)
    assert set(label_of(FOUR, kept, 98.0, [352.0]).firings) == {0, 2}
    assert set(label_of(FOUR, kept, 98.0, [180.0, 450.0]).firings) == {0, 1}
    assert label_of(FOUR, kept, 98.0, [180.0]).firings == (0,)


def test_labels_move_to_the_firing_that_fits():
    # a firing later, and none at the first
    label = label_of(FOUR, _cam(-95.0), 98.0 - 180.0, [60.0])
    assert label.firings == (1,)
    assert label.tdc_after_event_deg == pytest.approx(98.0)


def test_no_edge_at_its_stated_angle_leaves_the_labels_in_doubt():
    label = label_of(FOUR, _cam(-95.0), 98.0 + 90.0, [360.0])
    assert label.firings == (0,)
    assert label.confidence < 0.5


def test_firings_that_stand_otherwise_are_told_apart_by_the_fit():
    # the second edge is one firing on, but of the other spacing
    assert label_of(UNEVEN, _cam(-95.0), 98.0, [150.0]).firings == (0,)
    assert set(label_of(UNEVEN, _cam(-95.0), 98.0, [240.0]).firings) == {0, 2}
