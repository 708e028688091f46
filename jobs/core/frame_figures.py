"""What kept rows of a freeze frame say of speed, load and temperature, by names and units."""

import re
from collections.abc import Iterable, Mapping

_NAMES = {
    "frame_rpm": re.compile(
        r"\brpm\b|engine (speed|rpm)|\bn ?motor|r[ée]gimen|revoluciones", re.IGNORECASE
    ),
    "frame_load_percent": re.compile(r"\bload\b|\bcarga\b", re.IGNORECASE),
    "frame_coolant_c": re.compile(r"coolant|\bect\b|refrigerante", re.IGNORECASE),
    "frame_speed_km_h": re.compile(
        r"vehicle speed|road speed|\bvss\b|velocidad (del )?veh", re.IGNORECASE
    ),
}
"""Usual names of the parameters 0C, 04, 05 and 0D of SAE J1979, in English and Spanish."""
_OTHER = re.compile(r"abs|target|desired|commanded|fuel rail|objetivo|desead", re.IGNORECASE)
"""Parameters that are called alike and mean something else."""
_UNITS = {
    "frame_rpm": {"", "rpm", "1/min", "/min", "min-1", "min^-1", "r/min"},
    "frame_load_percent": {"", "%"},
    "frame_coolant_c": {"c", "°c", "ºc", "degc", "deg c"},
    "frame_speed_km_h": {"km/h", "kmh", "kph"},
}
_RANGES = {
    "frame_rpm": (0.0, 16_384.0),
    "frame_load_percent": (0.0, 100.0),
    "frame_coolant_c": (-40.0, 215.0),
    "frame_speed_km_h": (0.0, 255.0),
}
_KM_PER_MILE = 1.609344
_FAHRENHEIT = frozenset({"f", "°f", "ºf", "degf", "deg f"})


def frame_figures(rows: Iterable[Mapping[str, str]]) -> dict[str, float]:
    """Return the figures of a recorded freeze frame that the rows hold, in its units.

    A temperature or road speed without a unit is left out, as is what two rows say differently.
    """
    found: dict[str, set[float]] = {}
    for row in rows:
        if _OTHER.search(row["name"]):
            continue
        for figure, name in _NAMES.items():
            if name.search(row["name"]):
                value = _value(figure, row["value"], row["unit"].strip().lower())
                if value is not None:
                    found.setdefault(figure, set()).add(value)
    return {figure: values.pop() for figure, values in found.items() if len(values) == 1}


def _value(figure: str, text: str, unit: str) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    if figure == "frame_coolant_c" and unit in _FAHRENHEIT:
        value, unit = (value - 32.0) / 1.8, "°c"
    if figure == "frame_speed_km_h" and unit == "mph":
        value, unit = value * _KM_PER_MILE, "km/h"
    least, most = _RANGES[figure]
    return value if unit in _UNITS[figure] and least <= value <= most else None
