import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.misfires import CountsError, counts_read, counts_text


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
        ("", "Type the counts"),
        ("many", "is no count"),
        ("1: x", "is no count"),
        ("1: 2.5", "is no count"),
        ("1: 3, 1: 4", "comes twice"),
        ("0: 3", "no cylinder 0"),
        ("17: 3", "no cylinder 17"),
        ("1: 99999999999999999999", "too large"),
        ("1: 3 and then some", "is no count"),
    ],
)
def test_what_is_no_count_is_told(text, fragment):
    with pytest.raises(CountsError, match=fragment):
        counts_read(text)


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
