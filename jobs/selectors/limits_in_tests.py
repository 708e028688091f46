"""Tests of a work order that name limits: those in force, in the shop's unit."""

from collections.abc import Iterable
from dataclasses import replace

from jobs.core.measured_tests import TESTS, limit_words
from jobs.core.wanted_test_texts import BACK_PRESSURE, WantedTest
from jobs.selectors.limit_place import LimitPlace
from jobs.selectors.typed_findings import limits_at

_NAMED = {"idle": "back_idle_kpa", "fast": "back_fast_kpa"}
"""What the words leave open, by figure."""


def with_limits(tests: Iterable[WantedTest], place: LimitPlace) -> tuple[WantedTest, ...]:
    """Return tests with the limits filled in that their words leave open."""
    entry = TESTS[BACK_PRESSURE.key]
    limits, unit = limits_at(place, entry), place.shop.pressure_unit
    said = {
        name: limit_words(figure, limits[figure.name], unit)
        for name, wanted in _NAMED.items()
        if (figure := entry.figure(wanted)) is not None
    }
    return tuple(
        replace(t, words=t.words.format(**said)) if t.key == BACK_PRESSURE.key else t for t in tests
    )
