import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.misfires import CountsError, counts_read, counts_text
from tests.wording import named, says


@pytest.mark.parametrize(
    "text",
    [
        "1: 0, 2: 143, 3: 2, 4: 0",
        "1:0,2:143,3:2,4:0",
        "0 143 2 0",
        "0,143,2,0",
        "Cylinder 1: 0\nCylinder 2: 143\nCylinder 3: 2 misfires\nCyl 4 = 0",
        "cyl 1 0\ncyl 2 143\n#3 2\n#4 0",
        "4=0 3=2 2=143 1=0",
    ],
)
def test_counts_however_they_are_typed(text):
    assert counts_read(text) == {1: 0, 2: 143, 3: 2, 4: 0}
    assert list(counts_read(text)) == [1, 2, 3, 4]


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("", named("misfires.type-counts-1-0")),
        ("many", named("misfires.no-count-type-them")),
        ("1: x", named("misfires.no-count-type-them")),
        ("1: 2.5", named("misfires.no-count-type-them")),
        ("1: 3, 1: 4", named("misfires.cylinder-comes-twice-give")),
        ("0: 3", named("misfires.there-no-cylinder-cylinders", cylinder=0)),
        ("17: 3", named("misfires.there-no-cylinder-cylinders", cylinder=17)),
        ("1: 99999999999999999999", named("misfires.count-cylinder-too-large")),
        ("1: 3 and then some", named("misfires.no-count-type-them")),
    ],
)
def test_what_is_no_count_is_told(text, fragment):
    with pytest.raises(CountsError) as refused:
        counts_read(text)
    assert says(refused.value, fragment)


@pytest.mark.parametrize(
    ("text", "in_turn", "in_order"),
    [
        ("1 12 2 340", {1: 12, 2: 340}, {1: 1, 2: 12, 3: 2, 4: 340}),
        ("1,12,2,340", {1: 12, 2: 340}, {1: 1, 2: 12, 3: 2, 4: 340}),
        ("1 12\n2 340", {1: 12, 2: 340}, {1: 1, 2: 12, 3: 2, 4: 340}),
        ("4 0 3 7", {3: 7, 4: 0}, {1: 4, 2: 0, 3: 3, 4: 7}),
        ("2 143", {2: 143}, {1: 2, 2: 143}),
    ],
)
def test_numbers_that_can_be_pairs_are_refused_with_both_ways_to_type_them(text, in_turn, in_order):
    with pytest.raises(CountsError) as refused:
        counts_read(text)
    # what the sentence offers can be typed as it stands
    offered = re.findall("“([^”]+)”", str(refused.value))
    assert [counts_read(way) for way in offered] == [in_turn, in_order]


@pytest.mark.parametrize("text", ["0 143 2 0", "3 0 3 1", "5 1 143", "340 1 12 2", "17 3 18 4"])
def test_numbers_that_can_be_no_pairs_are_counts_in_order(text):
    assert list(counts_read(text).values()) == [int(n) for n in text.split()]


@given(st.dictionaries(st.integers(1, 16), st.integers(0, 10_000_000), min_size=1))
def test_what_is_shown_can_be_typed_again(counts):
    shown = counts_text({str(c): n for c, n in counts.items()})
    assert counts_read(shown) == counts


@given(st.text(max_size=100))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        assert counts_read(text)
    except CountsError as error:
        assert str(error).endswith(".")  # noqa: PT017 - both outcomes are right
