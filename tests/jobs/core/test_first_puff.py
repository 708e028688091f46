"""First and last puff, after a maker's service text (example)."""

import pytest

from jobs.core.first_puff import Puff, puff_read

GOOD_FIRST, GOOD_LAST = {1: 600.0, 2: 580.0, 4: 620.0}, {1: 1250.0, 2: 1200.0, 4: 1270.0}


@pytest.mark.parametrize(
    ("first_kpa", "last_kpa", "meaning"),
    [
        # low first puff that builds, but not to normal: rings
        (300.0, 800.0, {3: Puff.RINGS}),
        # low and does not build: valves or gasket
        (300.0, 360.0, {3: Puff.VALVES}),
        # between the two, or not low at first: nothing is said
        (300.0, 520.0, {}),
        (580.0, 700.0, {}),
    ],
)
def test_how_a_low_cylinder_builds(first_kpa, last_kpa, meaning):
    assert puff_read(GOOD_FIRST | {3: first_kpa}, GOOD_LAST | {3: last_kpa}, {3}) == meaning


def test_without_a_good_cylinder_nothing_is_said():
    assert puff_read({3: 300.0}, {3: 360.0}, {3}) == {}
    assert puff_read({3: 300.0, 1: 0.0}, {3: 360.0, 1: 1200.0}, {3}) == {}
