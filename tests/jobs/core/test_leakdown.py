"""Leak-down against FAA AC 43.13-1B chapter 8; the bands for cars are common practice."""

import pytest

from jobs.core.leakdown import leak_percent, leak_read, names_another


def test_sixty_of_eighty_is_the_published_limit():
    # FAA AC 43.13-1B ch. 8: 80 psi regulated, more than 25 % lost (under 60/80) is suspect.
    assert leak_percent(80, 60) == pytest.approx(25.0)
    assert not leak_read(25.0).over_reference
    assert leak_read(leak_percent(80, 59)).over_reference


@pytest.mark.parametrize(
    ("percent", "band"),
    [
        # Common practice: 5-10 % good, to 20 % acceptable, 30 % and more bad.
        (0, "good"),
        (10, "good"),
        (10.1, "acceptable"),
        (20, "acceptable"),
        (25, "worn: compare with the good cylinders"),
        (29.9, "worn: compare with the good cylinders"),
        (30, "bad"),
        (100, "bad"),
    ],
)
def test_bands_of_cars(percent, band):
    assert leak_read(percent).band == band


@pytest.mark.parametrize(
    ("heard_at", "points_at"),
    [
        # FAA AC 43.13-1B ch. 8 for valves and rings; coolant and neighbour are common practice.
        ("intake", "intake valve"),
        ("exhaust", "exhaust valve"),
        ("crankcase", "rings"),
        ("coolant", "gasket"),
        ("neighbour", "gasket between"),
        ("", ""),
    ],
)
def test_where_air_is_heard(heard_at, points_at):
    assert points_at in leak_read(15, heard_at).points_at


@pytest.mark.parametrize("percent", [-0.1, 100.1, float("nan")])
def test_percentages_that_cannot_be(percent):
    with pytest.raises(ValueError, match="between 0 and 100"):
        leak_read(percent)


def test_gauges_that_cannot_be():
    with pytest.raises(ValueError, match="above zero"):
        leak_percent(0, 0)
    with pytest.raises(ValueError, match="more than the supply"):
        leak_percent(80, 81)


@pytest.mark.parametrize(
    ("meaning", "heard_at", "another"),
    [
        ("rings", "exhaust", True),
        ("rings", "crankcase", False),
        ("valves", "crankcase", True),
        ("valves", "intake", False),
        ("valves", "coolant", False),
        ("rings", "", False),
        ("ambiguous", "exhaust", False),
    ],
)
def test_where_the_air_escapes_names_the_leak(meaning, heard_at, another):
    assert names_another(meaning, heard_at) is another
