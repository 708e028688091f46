"""What customers say about when it happens, and which lights were on."""

from shopdiag.people.core.words import gettext, gettext_noop

HAPPENS: dict[str, str] = {
    "always": gettext_noop("All the time"),
    "sometimes": gettext_noop("Now and then"),
    "cold": gettext_noop("Engine cold"),
    "warm": gettext_noop("Engine warm"),
    "hot_restart": gettext_noop("Started again while hot"),
    "starting": gettext_noop("While starting"),
    "idle": gettext_noop("At idle"),
    "pulling_away": gettext_noop("Pulling away"),
    "accelerating": gettext_noop("Accelerating"),
    "steady": gettext_noop("At steady speed"),
    "slowing": gettext_noop("Slowing down"),
    "uphill": gettext_noop("Uphill or towing"),
    "wet": gettext_noop("In the wet"),
    "after_fuel": gettext_noop("After filling up"),
    "after_standing": gettext_noop("After standing for days"),
}

WARNING_LIGHTS: dict[str, str] = {
    "engine": gettext_noop("Engine (on)"),
    "engine_flashing": gettext_noop("Engine (flashing)"),
    "oil_pressure": gettext_noop("Oil pressure"),
    "coolant": gettext_noop("Coolant temperature"),
    "battery": gettext_noop("Battery"),
    "glow": gettext_noop("Glow plugs"),
    "traction": gettext_noop("Traction or stability"),
    "abs": gettext_noop("Brakes (ABS)"),
    "airbag": gettext_noop("Airbag"),
    "limited_power": gettext_noop("Reduced power"),
    "hybrid": gettext_noop("Hybrid or electric system"),
    "other": gettext_noop("Another one"),
}


def labels_of(keys: list[str], table: dict[str, str]) -> list[str]:
    """Return the words of `keys` in the table's order; a key that is no longer known stays."""
    known = [gettext(words) for key, words in table.items() if key in keys]
    return known + [key for key in keys if key not in table]
