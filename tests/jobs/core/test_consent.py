"""Which later verdict a yes to a repair covers; no database."""

import pytest

from jobs.core.consent import Diagnosed


@pytest.mark.parametrize(
    ("then", "now", "covers"),
    [
        (("compression", {3}), ("compression", {3}), True),
        (("compression", {3}), ("compression", {1}), False),
        (("compression", {3}), ("compression", {1, 3}), False),
        (("compression", {3}), ("compression", set()), False),
        (("compression", {3}), ("ignition", {3}), False),
        # what was found of several, or of an engine whose tests had to name it
        (("compression", {3, 4}), ("compression", {3}), True),
        (("ignition", set()), ("ignition", {2}), True),
        (("ignition", set()), ("ignition", set()), True),
    ],
)
def test_a_yes_covers_what_was_found(then, now, covers):
    def diagnosed(said):
        return Diagnosed(said[0], frozenset(said[1]))

    assert diagnosed(then).covers(diagnosed(now)) is covers
