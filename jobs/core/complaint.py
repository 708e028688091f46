"""What customers say about when it happens, and which lights were on."""

import re

HAPPENS: dict[str, str] = {
    "always": "All the time",
    "sometimes": "Now and then",
    "cold": "Engine cold",
    "warm": "Engine warm",
    "hot_restart": "Started again while hot",
    "starting": "While starting",
    "idle": "At idle",
    "pulling_away": "Pulling away",
    "accelerating": "Accelerating",
    "steady": "At steady speed",
    "slowing": "Slowing down",
    "uphill": "Uphill or towing",
    "wet": "In the wet",
    "after_fuel": "After filling up",
    "after_standing": "After standing for days",
}

WARNING_LIGHTS: dict[str, str] = {
    "engine": "Engine (on)",
    "engine_flashing": "Engine (flashing)",
    "oil_pressure": "Oil pressure",
    "coolant": "Coolant temperature",
    "battery": "Battery",
    "glow": "Glow plugs",
    "traction": "Traction or stability",
    "abs": "Brakes (ABS)",
    "airbag": "Airbag",
    "limited_power": "Reduced power",
    "hybrid": "Hybrid or electric system",
    "other": "Another one",
}


BARE_NUMBER = re.compile(r"\d+(?:[ .,'\u2019]\d+)*")


def amount_with_currency(amount: str, currency: str) -> str:
    """Return an amount with the currency; one that says more than a number stays as typed."""
    amount = amount.strip()
    return f"{amount} {currency}" if BARE_NUMBER.fullmatch(amount) else amount


def labels_of(keys: list[str], table: dict[str, str]) -> list[str]:
    """Return the words of `keys` in the table's order; a key that is no longer known stays."""
    known = [words for key, words in table.items() if key in keys]
    return known + [key for key in keys if key not in table]
