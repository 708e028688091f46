"""A phone number as a link."""

import pytest

from jobs.core.dialling import dial_address


@pytest.mark.parametrize(
    ("typed", "address"),
    [
        ("555 0142", "tel:5550142"),
        ("+49 (0)30 555-123", "tel:+4930555123"),
        ("030/555 123 ext. 7", "tel:030555123"),
        ("112", "tel:112"),
        ("ask at the desk", ""),
        ("12", ""),
        ("030 555 1230 / 0170 555 1231", ""),
        ("", ""),
        ("javascript:alert(1)", ""),
    ],
)
def test_only_digits_and_a_leading_plus_are_dialled(typed: str, address: str) -> None:
    assert dial_address(typed) == address
