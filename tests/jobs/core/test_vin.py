"""VIN checks against the regulation's own example and an independent library."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from jobs.core.vin import (
    CHECK_PLACE,
    LENGTH,
    VALUES,
    check_digit,
    vin_check,
    vin_clean,
    weighted_sum,
)
from tests.wording import named, says

# 49 CFR 565.15(c), table V: the regulation's worked example, sum 411, check digit 4.
REGULATION = "1G4AH59H45G118341"
# Widely published worked examples of the same calculation.
PUBLISHED = [("1J9RP1A36A1644345", 314, "6"), ("1M8GDM9AXKP042788", 351, "X"), ("1" * 17, 89, "1")]

_LETTERS = st.sampled_from(sorted(VALUES))
_RANDOM = st.lists(_LETTERS, min_size=LENGTH, max_size=LENGTH).map("".join)


def test_worked_example_of_the_regulation():
    assert weighted_sum(REGULATION) == 411
    assert check_digit(REGULATION) == "4"
    assert vin_check(REGULATION).warnings == ()


@pytest.mark.parametrize(("vin", "total", "digit"), PUBLISHED)
def test_sums_of_published_examples(vin, total, digit):
    assert weighted_sum(vin) == total
    assert check_digit(vin) == digit == vin[CHECK_PLACE]
    assert vin_check(vin).warnings == ()


@given(_RANDOM)
def test_agrees_with_the_library_vininfo(vin):
    # The library judges makers of North America; "1G4" is one.
    vin = "1G4" + vin[3:]
    right = vin[:CHECK_PLACE] + check_digit(vin) + vin[CHECK_PLACE + 1 :]
    assert Vin(right).verify_checksum(check_year=False)
    assert vin_check(right).warnings == ()
    assert Vin(vin).verify_checksum(check_year=False) == (vin == right)
    assert bool(vin_check(vin).warnings) == (vin != right)


@given(_RANDOM, st.integers(0, LENGTH - 1), _LETTERS)
def test_one_digit_mistyped_is_warned_about(vin, place, other):
    right = vin[:CHECK_PLACE] + check_digit(vin) + vin[CHECK_PLACE + 1 :]
    wrong = right[:place] + other + right[place + 1 :]
    # Characters of the same value (A, J, 1) cannot be told apart by any check digit.
    same_value = VALUES[other] == VALUES[right[place]]
    if place != CHECK_PLACE and not same_value:
        assert vin_check(wrong).warnings


@given(st.text(max_size=40))
def test_any_text_is_kept_and_none_refused(text):
    check = vin_check(text)
    assert check.vin == vin_clean(text)
    assert vin_check(check.vin).vin == check.vin


@pytest.mark.parametrize(
    ("typed", "fragment"),
    [
        ("1G4AH59H45G11834", named("vin.vin-characters-instead-17", count=16)),
        ("1G4AH59H45G1183411", named("vin.vin-characters-instead-17", count=18)),
        ("1G4AH59H45G11834I", named("vin.perhaps", letter="I", other=1)),
        ("OG4AH59H45G118341", named("vin.perhaps", letter="O", other=0)),
        ("QG4AH59H45G118341", named("vin.perhaps", letter="Q", other=0)),
        ("1G4AH59H35G118341", named("vin.check-digit-9th-place")),
        ("1G4AH59H45G11834Ä", named("vin.vin-holds-letters-digits")),
    ],
)
def test_what_is_odd_is_said(typed, fragment):
    (warning,) = vin_check(typed).warnings
    assert says(warning, fragment)


def test_a_european_number_without_check_digit_is_told_why_it_may_be_right():
    (warning,) = vin_check("WXXZZZ1KZAW000001").warnings
    assert says(warning, "vin.check-digit-9th-place")


def test_blanks_hyphens_and_lower_case_do_not_matter():
    assert vin_check(" 1g4ah59h-45g11 8341 ").vin == REGULATION


def test_empty_is_fine():
    assert vin_check("  ").warnings == ()


def test_sum_of_a_wrong_length_or_letter_is_refused():
    with pytest.raises(ValueError, match="17 characters"):
        weighted_sum("1G4")
    with pytest.raises(ValueError, match="no value"):
        weighted_sum("I" + REGULATION[1:])
