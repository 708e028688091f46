"""Where cylinders sit; no database."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines.core.layouts import LAYOUTS, layout_of
from engines.core.positions import (
    Numbering,
    Place,
    PositionError,
    bank_numbers,
    check_banks,
    checked_places,
    cylinders_by_bank,
    front_first,
    neighbours_of,
    numbering_of,
    place_words,
    places_by_numbering,
    read_places,
    write_places,
)
from tests.wording import named, says, says_only, wording

SIZED = [layout for layout in LAYOUTS.values() if layout.cylinders is not None]


def test_din_73021_counts_the_left_bank_from_the_front():
    # DIN 73021:1953 as kfz-betrieb, "Zylindernummerierung: Regeln mit vielen Abweichungen",
    # describes it: from the end opposite the power output, the left bank first, then the other.
    places = places_by_numbering(layout_of("V8"), 8, Numbering.FRONT)
    assert front_first(places) == {"A": (1, 2, 3, 4), "B": (5, 6, 7, 8)}


def test_iso_1204_counts_from_the_driving_end():
    # ISO 1204:1990: cylinders count from the driving end, banks A and B. Counted from the front
    # that puts 1 last in its bank.
    places = places_by_numbering(layout_of("V8"), 8, Numbering.DRIVING_END)
    assert front_first(places) == {"A": (4, 3, 2, 1), "B": (8, 7, 6, 5)}
    one_row = places_by_numbering(layout_of("I4"), 4, Numbering.DRIVING_END)
    assert front_first(one_row) == {"": (4, 3, 2, 1)}


def test_many_makers_alternate_the_banks():
    # Common practice: odd numbers on one bank, even ones on the other, from the front.
    places = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
    assert front_first(places) == {"A": (1, 3, 5), "B": (2, 4, 6)}


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (Place("A", 2, 4), "bank A, second from the front"),
        (Place("B", 4, 4), "bank B, fourth from the front (next to the flywheel)"),
        (Place("", 1, 4), "first from the front"),
        (Place("", 1, 1), "the only cylinder"),
        (Place("A", 1, 1), "bank A, the only cylinder of its bank"),
        (Place("", 9, 10), "9th from the front"),
    ],
)
def test_places_in_words(place, words):
    assert place.words == words


def test_neighbours_share_the_bank():
    places = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
    assert neighbours_of(places, 1) == (3,)
    assert neighbours_of(places, 3) == (1, 5)
    assert neighbours_of(places, 4) == (2, 6)
    inline = places_by_numbering(layout_of("I4"), 4, Numbering.DRIVING_END)
    # Front first: from the flywheel end cylinder 2 has 3 before and 1 behind it.
    assert neighbours_of(inline, 2) == (3, 1)
    assert neighbours_of(places_by_numbering(layout_of("I1"), 1, Numbering.FRONT), 1) == ()


@pytest.mark.parametrize("layout", SIZED, ids=lambda layout: layout.key)
@pytest.mark.parametrize("numbering", list(Numbering))
def test_every_numbering_fills_every_layout(layout, numbering):
    places = places_by_numbering(layout, layout.cylinders, numbering)
    check_banks(layout, places)
    rows = [(cylinder, place.bank, place.place) for cylinder, place in places.items()]
    assert checked_places(rows, layout.cylinders) == places
    assert read_places(write_places(places), layout.cylinders) == places
    found = numbering_of(layout, places)
    assert found is not None
    assert places_by_numbering(layout, layout.cylinders, found) == places


def test_places_of_no_known_numbering_are_told_as_such():
    places = read_places("A: 1 4 2\nB: 3 5 6", 6)
    assert numbering_of(layout_of("V6"), places) is None
    uneven = read_places("A: 1 2 3\nB: 4 5", 5)
    assert numbering_of(layout_of("other"), uneven) is None


@pytest.mark.parametrize(
    "text",
    ["A: 1 3 5 7\nB: 2 4 6 8", "a 1,3,5,7\n\nb 2-4-6-8", "Bank A: 1 3 5 7 / Bank B: 2 4 6 8"],
)
def test_ways_to_type_the_places(text):
    assert front_first(read_places(text, 8)) == {"A": (1, 3, 5, 7), "B": (2, 4, 6, 8)}


def test_one_row_needs_no_letter():
    assert front_first(read_places("1-2-3-4", 4)) == {"": (1, 2, 3, 4)}


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", named("positions.cylinder-no-place-yet", missing=1)),
        ("A: 1 2\nB: 3", named("positions.cylinder-no-place-yet", missing=4)),
        ("A: 1 2 3\nB: 3 4", named("positions.cylinder-given-two-places", cylinder=3)),
        ("A: 1 2\nB: 3 5", named("positions.cylinder-place-but-engine", cylinder=5, cylinders=4)),
        ("A: 0 1\nB: 2 3", named("positions.cylinder-place-but-engine", cylinder=0)),
        ("A: 1 2\nA: 3 4", named("positions.bank-two-lines-give", bank="A")),
        ("1 2\n3 4", named("positions.rows-without-bank-letter")),
        ("1 2\nB: 3 4", named("positions.some-cylinders-bank-some")),
        ("left: 1 2", named("positions.not-bank-write-letter")),
        ("<b>1</b>", named("positions.not-bank-write-letter")),
        ("A: 1 2 " + "3" * 5000, named("positions.not-bank-write-letter")),
    ],
)
def test_places_that_cannot_be_say_why(text, part):
    with pytest.raises(PositionError) as refused:
        read_places(text, 4)
    assert says(refused.value, part)


@pytest.mark.parametrize(
    ("rows", "part"),
    [
        (
            [(1, "A", 1), (2, "A", 1)],
            named("positions.cylinders-share-one-place", taken=1, cylinder=2),
        ),
        ([(1, "A", 1), (2, "A", 3)], named("positions.places-bank-must-run", bank="A", count=2)),
        ([(1, "", 2), (2, "", 3)], named("positions.places-row-must-run", count=2)),
    ],
)
def test_stored_places_are_checked_too(rows, part):
    with pytest.raises(PositionError) as refused:
        checked_places(rows, 2)
    assert says(refused.value, part)


def test_banks_must_be_those_of_the_layout():
    with pytest.raises(PositionError, match="has banks A and B"):
        check_banks(layout_of("V6"), read_places("1 2 3 4 5 6", 6))
    with pytest.raises(PositionError, match="has one row, no bank"):
        check_banks(layout_of("I4"), read_places("A: 1 2\nB: 3 4", 4))
    with pytest.raises(PositionError) as refused:
        check_banks(layout_of("V6"), read_places("A: 1 2 3 4\nB: 5 6", 6))
    assert says(refused.value, "positions.bank-bank", first="not 4", bank="A", second=2, other="B")


def test_cylinders_that_do_not_split_over_the_banks():
    with pytest.raises(PositionError) as refused:
        places_by_numbering(layout_of("other"), 5, Numbering.FRONT)
    assert says(refused.value, "positions.cylinders-do-not-split", cylinders=5, count=2)


@given(st.permutations(range(1, 13)), st.integers(1, 11))
def test_any_two_banks_are_read_as_written(cylinders, split):
    banks = {"A": tuple(cylinders[:split]), "B": tuple(cylinders[split:])}
    places = read_places(
        "\n".join(f"{bank}: {' '.join(map(str, row))}" for bank, row in banks.items()), 12
    )
    assert front_first(places) == banks
    assert read_places(write_places(places), 12) == places
    for cylinder in places:
        for beside in neighbours_of(places, cylinder):
            assert cylinder in neighbours_of(places, beside)


def test_a_place_names_its_bank_as_fault_codes_do():
    # the bank of cylinder 1 is bank 1 (SAE J2012; from memory)
    v6 = places_by_numbering(layout_of("V6"), 6, Numbering.ALTERNATING)
    place = wording("positions.first-from-front")
    assert says_only(place_words(v6, 1), "positions.text", bank="bank A (bank 1)", place=place)
    end = wording("positions.next-flywheel", place=wording("positions.third-from-front"))
    assert says_only(place_words(v6, 6), "positions.text", bank="bank B (bank 2)", place=end)
    turned = {c: Place("A" if p.bank == "B" else "B", p.place, p.places) for c, p in v6.items()}
    assert says_only(place_words(turned, 1), "positions.text", bank="bank B (bank 1)", place=place)
    four = places_by_numbering(layout_of("I4"), 4, Numbering.FRONT)
    assert says_only(place_words(four, 3), "positions.third-from-front")
    assert bank_numbers(cylinders_by_bank(v6)) == {1: 1, 3: 1, 5: 1, 2: 2, 4: 2, 6: 2}
    assert bank_numbers(None) == bank_numbers(cylinders_by_bank(four)) == {}
