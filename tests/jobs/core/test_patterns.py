"""How low cylinders stand to each other; the readings are common practice."""

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from jobs.core.patterns import MEANINGS, Pattern, high_cylinders, pattern_of

FOUR = FiringOrder.parse("1-3-4-2")
FOUR_PLACES = places_by_numbering(layout_of("I4"), 4, Numbering.FRONT)
SIX = FiringOrder.parse("1-2-3-4-5-6")
SIX_PLACES = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
FLAT = FiringOrder.parse("1-3-2-4")
FLAT_PLACES = places_by_numbering(layout_of("F4"), 4, Numbering.ALTERNATING)


@pytest.mark.parametrize(
    ("low", "order", "places", "pattern"),
    [
        ((), FOUR, FOUR_PLACES, Pattern.NONE),
        ((3,), FOUR, FOUR_PLACES, Pattern.ONE),
        # 1-3-4-2: 2 and 3 fire a turn apart *and* sit side by side: the sync comes first.
        ((2, 3), FOUR, FOUR_PLACES, Pattern.COMPANIONS),
        ((1, 4), FOUR, FOUR_PLACES, Pattern.COMPANIONS),
        ((1, 2), FOUR, FOUR_PLACES, Pattern.ADJACENT),
        ((3, 4), FOUR, FOUR_PLACES, Pattern.ADJACENT),
        ((1, 3), FOUR, FOUR_PLACES, Pattern.SEVERAL),
        ((1, 2, 3), FOUR, FOUR_PLACES, Pattern.SEVERAL),
        ((1, 2, 3, 4), FOUR, FOUR_PLACES, Pattern.ALL),
        # Alternating numbering: odd ones on bank A, even ones on bank B.
        ((1, 3), SIX, SIX_PLACES, Pattern.ADJACENT),
        ((1, 2), SIX, SIX_PLACES, Pattern.SEVERAL),
        ((1, 4), SIX, SIX_PLACES, Pattern.COMPANIONS),
        ((1, 3, 5), SIX, SIX_PLACES, Pattern.BANK),
        ((1, 3, 4), SIX, SIX_PLACES, Pattern.SEVERAL),
        ((1, 3), FLAT, FLAT_PLACES, Pattern.ADJACENT),
    ],
)
def test_patterns(low, order, places, pattern):
    assert pattern_of(low, order, places) is pattern


def test_without_an_engine_little_can_be_told():
    assert pattern_of((1, 2), None, None) is Pattern.SEVERAL
    assert pattern_of((1, 2), FOUR, None) is Pattern.SEVERAL
    assert pattern_of((1, 4), FOUR, {}) is Pattern.COMPANIONS


def test_every_pattern_has_a_reading_with_its_source():
    assert set(MEANINGS) == set(Pattern)
    for meaning in MEANINGS.values():
        assert meaning.reading
        assert meaning.source


def test_a_hump_after_a_low_one_is_no_sign_of_liquid():
    # In 1-3-4-2 cylinder 3 follows 1: the crank reaches it faster.
    assert high_cylinders({1: 0.5, 3: 1.3, 4: 1.0, 2: 1.0}, FOUR) == ()
    assert high_cylinders({1: 1.0, 3: 1.3, 4: 1.0, 2: 1.0}, FOUR) == (3,)
    assert high_cylinders({1: 1.0, 3: 1.19, 4: 1.0, 2: 1.0}, FOUR) == ()


def test_a_missing_figure_before_calls_nothing_high():
    assert high_cylinders({3: 1.3}, FOUR) == ()
