"""What a cranking capture says about starter, battery and cables, apart from the cylinders."""

from traces.core.starter.measure import starter_figures
from traces.core.starter.stretch import find_stretch
from traces.core.starter.without_current import figures_of_teeth, figures_of_voltage
from traces.core.starter.words import (
    StarterPair,
    StarterTable,
    starter_line,
    starter_pairs,
    starter_rows,
    starter_table,
)

__all__ = [
    "StarterPair",
    "StarterTable",
    "figures_of_teeth",
    "figures_of_voltage",
    "find_stretch",
    "starter_figures",
    "starter_line",
    "starter_pairs",
    "starter_rows",
    "starter_table",
]
