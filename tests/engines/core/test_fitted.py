"""Which coils and injection go with a fuel."""

import pytest

from engines.core.fitted import fitted_refusals


@pytest.mark.parametrize(
    ("fuel", "coils", "injection", "refused"),
    [
        ("petrol", "pairs", "port", set()),
        ("diesel", "", "common_rail", set()),
        ("", "single", "common_rail", set()),
        ("diesel", "single", "", {"coils"}),
        ("diesel", "", "port", {"injection"}),
        ("gas", "single", "common_rail", {"injection"}),
    ],
)
def test_what_does_not_go_with_the_fuel_is_refused(fuel, coils, injection, refused):
    assert set(fitted_refusals(fuel, coils, injection)) == refused
