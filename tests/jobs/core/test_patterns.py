"""How low cylinders stand to each other; the readings are common practice."""

import pytest

from engines.core.firing import FiringOrder
from engines.core.layouts import layout_of
from engines.core.positions import Numbering, places_by_numbering
from jobs.core.pattern_meanings import MEANINGS
from jobs.core.patterns import (
    Pattern,
    Seen,
    fast_hints,
    pattern_of,
    patterns_in,
)

FOUR = FiringOrder.parse("1-3-4-2")
FOUR_PLACES = places_by_numbering(layout_of("I4"), 4, Numbering.FRONT)
SIX = FiringOrder.parse("1-2-3-4-5-6")
SIX_PLACES = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
INLINE_SIX = FiringOrder.parse("1-5-3-6-2-4")
INLINE_SIX_PLACES = places_by_numbering(layout_of("I6"), 6, Numbering.FRONT)
EIGHT = FiringOrder.parse("1-8-4-3-6-5-7-2")
EIGHT_PLACES = places_by_numbering(layout_of("V8"), 8, Numbering.ALTERNATING)
FLAT = FiringOrder.parse("1-3-2-4")
FLAT_PLACES = places_by_numbering(layout_of("F4"), 4, Numbering.ALTERNATING)


@pytest.mark.parametrize(
    ("low", "order", "places", "pattern"),
    [
        ((), FOUR, FOUR_PLACES, Pattern.NONE),
        ((3,), FOUR, FOUR_PLACES, Pattern.ONE),
        # 1-3-4-2: 2 and 3 fire a turn apart *and* sit side by side. A sync on the wrong turn maps
        # the pair onto itself, so the gasket between them comes first (common practice).
        ((2, 3), FOUR, FOUR_PLACES, Pattern.ADJACENT),
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
        # 1-5-3-6-2-4: 3 and 4 sit side by side and fire a turn apart, 2 and 5 only the latter.
        ((3, 4), INLINE_SIX, INLINE_SIX_PLACES, Pattern.ADJACENT),
        ((2, 5), INLINE_SIX, INLINE_SIX_PLACES, Pattern.COMPANIONS),
        # 1-3-5-7 on one bank: 1 and 5 are no neighbours, but share cam, lifters and oil feed
        # (common practice).
        ((1, 5), EIGHT, EIGHT_PLACES, Pattern.SAME_BANK),
        ((2, 6, 8), EIGHT, EIGHT_PLACES, Pattern.SAME_BANK),
        ((1, 3), EIGHT, EIGHT_PLACES, Pattern.ADJACENT),
        ((1, 4), EIGHT, EIGHT_PLACES, Pattern.SEVERAL),
        ((2, 4, 6, 8), EIGHT, EIGHT_PLACES, Pattern.BANK),
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
        assert meaning.disproof
        assert meaning.source


def read(low=(), order=FOUR, places=FOUR_PLACES, **given):
    found = patterns_in(Seen(low=frozenset(low), order=order, places=places, **given))
    return [(one.pattern, one.cylinders) for one in found]


def test_what_can_do_harm_comes_first_then_the_gasket_then_a_drag():
    found = read((2, 3), high=frozenset({1}), now_and_then=frozenset({3}))
    assert found == [
        (Pattern.HIGH, (1,)),
        (Pattern.ADJACENT, (2, 3)),
        (Pattern.COMPANIONS, (2, 3)),
        (Pattern.COMES_AND_GOES, (3,)),
    ]


def test_a_cylinder_to_watch_is_not_told_as_none_low():
    assert read((), watched=frozenset({1})) == [(Pattern.WATCH, (1,))]
    assert read((), watched=frozenset({1}), misfires=True) == [
        (Pattern.WATCH, (1,)),
        (Pattern.EVEN_MISFIRES, ()),
    ]
    # beside a low one, or as a part of a weaker bank, it is no reading of its own
    assert read((2,), watched=frozenset({1})) == [(Pattern.ONE, (2,))]
    bank = frozenset({1, 3, 5})
    assert read((), SIX, SIX_PLACES, watched=frozenset({1}), weaker_bank=bank) == [
        (Pattern.BANK_UNEVEN, (1, 3, 5))
    ]


def test_neighbours_come_from_where_cylinders_sit():
    # Alternating numbering: 1, 3, 5 on one bank, so that 1 and 2 are no neighbours.
    assert read((1, 2), SIX, SIX_PLACES) == [(Pattern.SEVERAL, (1, 2))]
    assert read((1, 3), SIX, SIX_PLACES) == [(Pattern.ADJACENT, (1, 3))]
    assert read((1, 2, 3), SIX, SIX_PLACES) == [
        (Pattern.SEVERAL, (1, 2, 3)),
        (Pattern.ADJACENT, (1, 3)),
    ]
    from_front = places_by_numbering(layout_of("V6"), 6, Numbering.FRONT)
    assert read((1, 2), SIX, from_front) == [(Pattern.ADJACENT, (1, 2))]


def test_neighbours_among_several_of_one_bank_are_named_too():
    assert read((1, 3, 7), EIGHT, EIGHT_PLACES) == [
        (Pattern.SAME_BANK, (1, 3, 7)),
        (Pattern.ADJACENT, (1, 3)),
    ]
    assert read((1, 5), EIGHT, EIGHT_PLACES) == [(Pattern.SAME_BANK, (1, 5))]


def test_an_unknown_place_makes_no_bank():
    places = {c: place for c, place in EIGHT_PLACES.items() if c != 5}
    assert pattern_of((1, 5), EIGHT, places) is Pattern.SEVERAL


def test_a_bank_of_two_is_both_neighbours_and_a_bank():
    assert [p for p, _ in read((1, 3), FLAT, FLAT_PLACES)] == [Pattern.ADJACENT, Pattern.BANK]


def test_an_open_question_is_read_as_nothing_else():
    assert read((1, 4), is_open=True) == [(Pattern.OPEN, (1, 4))]


def test_an_open_question_between_neighbours_is_of_a_gasket_too():
    # 1-3-4-2, sync every turn: 1 and 2 low and 4 and 3 low look alike, side by side either way
    pairs = (frozenset({1, 2}), frozenset({3, 4}))
    found = patterns_in(
        Seen(low=frozenset({1, 2, 3, 4}), is_open=True, sets=pairs, order=FOUR, places=FOUR_PLACES)
    )
    assert [r.pattern for r in found] == [Pattern.OPEN, Pattern.ADJACENT]
    assert [r.sets for r in found] == [((1, 2), (3, 4))] * 2
    # of single cylinders, or where one set is no pair of neighbours, nothing is said
    assert read((1, 4), is_open=True, sets=(frozenset({1}), frozenset({4}))) == [
        (Pattern.OPEN, (1, 4))
    ]
    mixed = (frozenset({1, 2}), frozenset({1, 3}))
    assert read((1, 2, 3), is_open=True, sets=mixed) == [(Pattern.OPEN, (1, 2, 3))]


def test_even_engines():
    assert read() == [(Pattern.NONE, ())]
    assert read(misfires=True) == [(Pattern.EVEN_MISFIRES, ())]
    assert read(fast_hints=("It sounds fast.",), misfires=True) == [
        (Pattern.FAST_EVEN, ()),
        (Pattern.EVEN_MISFIRES, ()),
    ]
    # a cylinder that falls away now and then explains the misfire
    assert read(misfires=True, now_and_then=frozenset({2})) == [(Pattern.COMES_AND_GOES, (2,))]


def test_an_uneven_engine_needs_no_hint_that_all_are_low():
    assert read((3,), fast_hints=("It sounds fast.",), misfires=True) == [(Pattern.ONE, (3,))]


def test_over_time_without_numbers():
    unnumbered = frozenset({Pattern.LOW_AT_FIRST})
    assert read(unnumbered=unnumbered) == [(Pattern.LOW_AT_FIRST, ())]
    assert read(at_first=frozenset({4})) == [(Pattern.LOW_AT_FIRST, (4,))]


def test_hints_of_an_easy_crank():
    assert fast_hints("even", 240.0, 0.5, 4) == ()
    assert fast_hints("", None, None, 0) == ()
    assert "sounds fast" in fast_hints("fast", None, None, 4)[0]
    # a sound four was recorded at 309 to 316 rpm
    assert fast_hints("", 316.0, None, 4) == ()
    assert "340 rpm" in fast_hints("", 340.0, None, 4)[0]
    assert "12 % only" in fast_hints("", 240.0, 0.12, 4)[0]
    # eight compressions overlap: shallow humps are nothing special
    assert fast_hints("", 240.0, 0.12, 8) == ()


def test_two_high_companions_are_a_bind_before_liquid():
    # 1-3-4-2: 1 and 4 fire 360 degrees apart, 1 and 3 do not
    assert read(high=frozenset({1, 4})) == [(Pattern.HIGH_COMPANIONS, (1, 4))]
    assert read(high=frozenset({1, 3})) == [(Pattern.HIGH, (1, 3))]


def test_a_bank_weaker_as_a_whole_is_a_pattern_without_a_low_cylinder():
    bank = frozenset({2, 4, 6})
    even = patterns_in(Seen(weaker_bank=bank, misfires=True, order=SIX, places=SIX_PLACES))
    assert [(r.pattern, r.cylinders) for r in even] == [
        (Pattern.BANK_UNEVEN, (2, 4, 6)),
        (Pattern.EVEN_MISFIRES, ()),
    ]
    all_low = patterns_in(Seen(low=bank, weaker_bank=bank, order=SIX, places=SIX_PLACES))
    assert [r.pattern for r in all_low] == [Pattern.BANK]
