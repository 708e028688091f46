"""English with a decimal comma, as a shop may want it."""

DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "\xa0"
