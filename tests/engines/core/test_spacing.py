"""How far apart engines fire; no database."""

import pytest

from engines.core.firing import FiringOrder
from engines.core.spacing import (
    FiringAngles,
    are_alike,
    firing_angles,
    rotations,
    spacing_words,
    usual_intervals,
    with_intervals,
)


@pytest.mark.parametrize("cylinders", [1, 2, 3, 4, 5, 6, 8, 10, 12])
def test_usual_spacings_fill_the_cycle_and_come_once(cylinders: int) -> None:
    spacings = usual_intervals(cylinders)
    assert spacings[0] == (720 / cylinders,) * cylinders
    for i, one in enumerate(spacings):
        assert len(one) == cylinders
        assert sum(one) == pytest.approx(720)
        assert not any(are_alike(one, other) for other in spacings[:i])


def test_known_engines_are_among_the_usual_ones() -> None:
    """90 degree V6 on three pins, with split pins, V10 on five pins, V twin of 45 degrees."""
    for text, angles in (
        ("1-6-5-4-3-2", "0,150,240,390,480,630"),
        ("1-6-5-4-3-2", "0,90,240,330,480,570"),
        ("1-6-5-4-3-2", "0,132,240,372,480,612"),
        ("1-6-5-10-2-7-3-8-4-9", "0,90,144,234,288,378,432,522,576,666"),
        ("1-2", "0,315"),
        ("1-2", "0,180"),
        ("1-3-2-4", "0,180,450,630"),
    ):
        order = FiringOrder.parse(text, angles)
        assert any(are_alike(order.intervals_deg, usual) for usual in usual_intervals(len(order)))


def test_alike_within_a_degree_of_the_firings_not_of_the_steps() -> None:
    assert are_alike((150.0, 90.0) * 3, (150.5, 89.5) * 3)
    # each step is within a degree, the third firing is not
    assert not are_alike((120.0,) * 6, (120.9, 120.9, 118.2, 120.0, 120.0, 120.0))
    assert not are_alike((360.0, 360.0), (720.0,))


def test_rotations_come_once() -> None:
    assert rotations((150.0, 90.0) * 3) == [(150.0, 90.0) * 3, (90.0, 150.0) * 3]
    assert len(rotations((180.0, 270.0, 180.0, 90.0))) == 4
    assert rotations((120.0,) * 6) == [(120.0,) * 6]


def test_a_sequence_is_spaced_otherwise() -> None:
    order = with_intervals(FiringOrder.parse("1-6-5-4-3-2"), (150.0, 90.0) * 3)
    assert order == FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630")


def test_words_tell_what_repeats() -> None:
    assert spacing_words((120.0,) * 6) == "120"
    assert spacing_words((150.0, 90.0) * 3) == "150/90"
    assert spacing_words((180.0, 270.0, 180.0, 90.0)) == "180/270/180/90"
    assert spacing_words((720.0,)) == "720"


def test_angles_are_told_where_they_may_be_uneven() -> None:
    uneven = firing_angles(FiringOrder.parse("1-6-5-4-3-2", "0,150,240,390,480,630"))
    angles_deg = (0.0, 150.0, 240.0, 390.0, 480.0, 630.0)
    assert uneven == FiringAngles((1, 6, 5, 4, 3, 2), angles_deg, "150/90", even=False)
    even = firing_angles(FiringOrder.parse("1-6-5-10-2-7-3-8-4-9"))
    assert even is not None
    assert (even.intervals, even.even) == ("72", True)
    assert firing_angles(FiringOrder.parse("1-3-4-2")) is None
