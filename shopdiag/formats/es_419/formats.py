"""Spanish with a decimal point, as a shop may want it."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
