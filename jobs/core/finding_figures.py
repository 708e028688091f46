"""Which figures belong to which test of a finding; all others say nothing there."""

from types import MappingProxyType

FIGURES = MappingProxyType(
    {
        "gauge_dry": ("first_puff_kpa", "pressure_kpa"),
        "gauge_wet": ("first_puff_kpa", "pressure_kpa", "oil_ml", "swept_ml"),
        "leak_down": ("leak_percent", "supply_kpa", "orifice_mm", "at_tdc", "is_warm"),
        "running": ("idle_kpa", "snap_kpa"),
        # a leak that opens warm shows in a capture made warm only
        "repeat": ("is_warm",),
    }
)

ALL_FIGURES = tuple(dict.fromkeys(name for names in FIGURES.values() for name in names))

RANGES = MappingProxyType(
    {"oil_ml": (0.5, 100.0), "swept_ml": (40.0, 5000.0), "orifice_mm": (0.3, 5.0)}
)
"""What a figure can be: oil of a wet test, swept volume of one cylinder, a tester's orifice
(0.040 in = 1.0 mm to 5.00 in bore and 0.060 in = 1.5 mm above, FAA AC 43.13-1B ch. 8)."""


def figures_of(test: str) -> tuple[str, ...]:
    """Return the names of a test's figures, empty where it has none."""
    return FIGURES.get(test, ())
