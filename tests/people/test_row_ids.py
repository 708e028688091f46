import pytest

from shopdiag.people.core.row_ids import is_row_id

pytestmark = pytest.mark.every_database


@pytest.mark.parametrize("text", ["1", "007", "9" * 18])
def test_plain_digits_are_a_row_id(text):
    assert is_row_id(text)


@pytest.mark.parametrize("text", ["", "-1", "1.0", "1e3", "٣", "²", " 1", "9" * 19, "9" * 5000])
def test_anything_else_is_none(text):
    assert not is_row_id(text)
