"""Which cylinders count as high, and what the finding says can do it."""

import pytest

from engines.core.firing import FiringOrder
from tests.wording import says
from traces.core.humps.high_humps import high_findings
from traces.core.report.high_cylinders import high_places
from traces.core.report.results import Estimate

FOUR = FiringOrder.parse("1-3-4-2")


def _estimates(figures, half=0.04, order=FOUR):
    """Return estimates of cylinders in firing sequence."""
    return tuple(
        Estimate(
            position=i,
            cylinder=cylinder,
            relative=relative,
            low=relative - half,
            high=relative + half,
            call="suspect" if relative < 0.8 else "watch" if relative < 0.88 else "sound",
            per_cycle=(),
            hump_relative=relative,
        )
        for i, (cylinder, relative) in enumerate(zip(order.sequence, figures, strict=True), start=1)
    )


def test_one_threshold_with_an_interval_clear_of_sound_ones() -> None:
    assert high_places(_estimates([1.0, 1.16, 1.0, 1.0])) == (1,)
    assert high_places(_estimates([1.0, 1.14, 1.0, 1.0])) == ()
    # an interval from 1.01 does not exclude a sound cylinder
    assert high_places(_estimates([1.0, 1.16, 1.0, 1.0], half=0.15)) == ()


def test_what_follows_a_weak_one_is_not_called_high() -> None:
    assert high_places(_estimates([0.5, 1.3, 1.0, 1.0])) == ()
    assert high_places(_estimates([1.3, 1.0, 1.0, 0.5])) == ()


def test_a_sound_companion_is_named_for_its_exhaust_valve() -> None:
    # 1-3-4-2: 3 and 2 fire 360 degrees apart
    (found,) = high_findings(_estimates([1.0, 1.2, 1.0, 1.0]), FOUR)
    assert found.code == "high-hump"
    assert "cylinder 3 is 20 %" in found.message
    assert says(found.message, "traces/high_cylinders:high-hump.message", companion="cylinder 2")
    assert "Stop cranking" in found.remedy
    assert says(found.remedy, "traces/high_cylinders:high-hump.remedy", companion="cylinder 2")


@pytest.mark.parametrize(
    ("order", "figures"),
    [
        (FOUR, [1.0, 1.2, 1.0, 0.5]),  # the companion is weak itself
        (FiringOrder.parse("1-3-2"), [1.0, 1.2, 1.0]),  # no cylinder fires 360 degrees away
    ],
)
def test_without_a_sound_companion_only_the_cylinder_itself_is_asked(order, figures) -> None:
    (found,) = high_findings(_estimates(figures, order=order), order)
    assert found.code == "high-hump"
    assert "valve" not in found.message
    assert "Stop cranking" in found.remedy


def test_two_companions_are_a_bind_before_liquid() -> None:
    (found,) = high_findings(_estimates([1.3, 1.0, 1.2, 1.0]), FOUR)
    assert found.code == "high-hump"
    assert found.message.index("binds once") < found.message.index("liquid")
    assert "cylinder 1 and cylinder 4" in found.message
    assert len(high_findings(_estimates([1.3, 1.2, 1.0, 1.0]), FOUR)) == 2
