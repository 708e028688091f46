"""Numbers as people type them: comma or point, and never a guess between two readings."""

import pytest
from django.core.exceptions import ValidationError

from shopdiag.people.number_field import NumberField


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("9,8", 9.8),
        ("9.8", 9.8),
        (" 12,45 ", 12.45),
        ("-84,5", -84.5),
        ("\u2212330", -330.0),
        ("1210", 1210.0),
        ("0,500", 0.5),
        ("12,4567", 12.4567),
        ("", None),
    ],
)
def test_a_comma_is_a_decimal_comma(typed, value):
    assert NumberField(required=False).clean(typed) == value


@pytest.mark.parametrize("typed", ["1,210", "-1,210", "120,000"])
def test_what_may_be_read_as_two_numbers_is_asked_back(typed):
    with pytest.raises(ValidationError) as refused:
        NumberField().clean(typed)
    assert refused.value.code == "ambiguous"


@pytest.mark.parametrize("typed", ["1.234,5", "1,234.5", "9,8,7", "twelve", "nan", "inf", "1e999"])
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(ValidationError):
        NumberField().clean(typed)


def test_limits_hold_for_what_was_typed_with_a_comma():
    with pytest.raises(ValidationError):
        NumberField(max_value=100).clean("100,5")


def test_the_browser_is_given_a_text_field_with_a_decimal_keypad():
    html = NumberField(min_value=0).widget.render("x", None)
    assert 'type="text"' in html
    assert 'inputmode="decimal"' in html
