"""Distances in the unit that a shop reads odometers in."""

KM_PER_MILE = 1.609344
"""Exact by definition: the international yard and pound agreement of 1959."""


def to_km(distance: float, unit: str) -> int:
    """Return a distance in whole kilometres; `unit` is `km` or `mi`."""
    return round(distance * KM_PER_MILE) if unit == "mi" else round(distance)
