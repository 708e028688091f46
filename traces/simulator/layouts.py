"""Engines to draw from: arrangements, firing orders, sizes and banks.

Orders and intervals as the reference data of the project gives them; sizes and inertias are
of the magnitude that data gives for such engines.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import Literal

from engines.core.firing import FiringOrder
from traces.core.setup import Fuel

Numbering = Literal["row", "halves", "alternating", "boxer"]


@dataclass(frozen=True, slots=True)
class SimulatedLayout:
    """A kind of engine.

    Parameters
    ----------
    orders
        Firing orders with how each numbers its banks.
    angles_deg
        Firing angles where they are uneven.
    cylinder_l, inertia_kg_m2, compression_ratio
        Ranges to draw from.
    """

    orders: tuple[tuple[str, Numbering], ...]
    cylinder_l: tuple[float, float]
    inertia_kg_m2: tuple[float, float]
    angles_deg: tuple[float, ...] | None = None
    compression_ratio: tuple[float, float] = (9.0, 12.0)
    fuel: Fuel = "petrol"

    def order(self, at: int) -> FiringOrder:
        """Return the firing order number `at`."""
        return FiringOrder.parse(self.orders[at][0], self.angles_deg)

    def banks(self, at: int) -> tuple[tuple[int, ...], ...]:
        """Return the cylinder numbers of each bank, front to back, for order number `at`."""
        count = len(self.order(at))
        numbers = tuple(range(1, count + 1))
        match self.orders[at][1]:
            case "row":
                return (numbers,)
            case "halves":
                return numbers[: count // 2], numbers[count // 2 :]
            case _:
                return numbers[::2], numbers[1::2]

    def neighbours(self, at: int) -> tuple[tuple[int, int], ...]:
        """Return the pairs of cylinders that share a stretch of head gasket."""
        return tuple((a, b) for bank in self.banks(at) for a, b in pairwise(bank))


_DIESEL_RATIO = (15.5, 18.0)

LAYOUTS: Mapping[str, SimulatedLayout] = MappingProxyType(
    {
        "I3": SimulatedLayout((("1-3-2", "row"), ("1-2-3", "row")), (0.30, 0.50), (0.10, 0.15)),
        "I4": SimulatedLayout((("1-3-4-2", "row"), ("1-2-4-3", "row")), (0.32, 0.62), (0.13, 0.21)),
        "I5": SimulatedLayout((("1-2-4-5-3", "row"),), (0.42, 0.56), (0.16, 0.26)),
        "I6": SimulatedLayout(
            (("1-5-3-6-2-4", "row"), ("1-4-2-6-3-5", "row")), (0.40, 0.60), (0.20, 0.34)
        ),
        "F4": SimulatedLayout(
            (("1-3-2-4", "boxer"), ("1-4-3-2", "boxer")), (0.45, 0.63), (0.14, 0.22)
        ),
        "F6": SimulatedLayout((("1-6-2-4-3-5", "halves"),), (0.45, 0.62), (0.17, 0.28)),
        "V6": SimulatedLayout(
            (
                ("1-2-3-4-5-6", "alternating"),
                ("1-4-2-5-3-6", "halves"),
                ("1-6-5-4-3-2", "alternating"),
            ),
            (0.42, 0.62),
            (0.20, 0.30),
        ),
        "V6-odd": SimulatedLayout(
            (("1-6-5-4-3-2", "alternating"),),
            (0.50, 0.64),
            (0.20, 0.30),
            (0, 150, 240, 390, 480, 630),
            (8.0, 9.5),
        ),
        "V6-semi": SimulatedLayout(
            (("1-6-5-4-3-2", "alternating"),),
            (0.50, 0.64),
            (0.20, 0.30),
            (0, 132, 240, 372, 480, 612),
            (8.5, 10.0),
        ),
        "V8": SimulatedLayout(
            (
                ("1-8-4-3-6-5-7-2", "alternating"),
                ("1-8-7-2-6-5-4-3", "alternating"),
                ("1-3-7-2-6-5-4-8", "halves"),
                ("1-5-4-8-6-3-7-2", "halves"),
                ("1-5-4-2-6-3-7-8", "halves"),
            ),
            (0.50, 0.80),
            (0.25, 0.50),
        ),
        "V10": SimulatedLayout((("1-6-5-10-2-7-3-8-4-9", "halves"),), (0.50, 0.80), (0.30, 0.55)),
        "V10-uneven": SimulatedLayout(
            (("1-6-5-10-2-7-3-8-4-9", "halves"),),
            (0.50, 0.80),
            (0.30, 0.55),
            (0, 90, 144, 234, 288, 378, 432, 522, 576, 666),
        ),
        "V12": SimulatedLayout(
            (("1-7-5-11-3-9-6-12-2-8-4-10", "halves"),), (0.45, 0.55), (0.35, 0.60)
        ),
        "V2": SimulatedLayout(
            (("1-2", "halves"),), (0.45, 0.85), (0.12, 0.28), (0, 315), (8.5, 10.0)
        ),
        "D4": SimulatedLayout(
            (("1-3-4-2", "row"),), (0.40, 0.60), (0.17, 0.28), None, _DIESEL_RATIO, "diesel"
        ),
        "D6": SimulatedLayout(
            (("1-5-3-6-2-4", "row"), ("1-4-2-6-3-5", "row")),
            (0.50, 1.00),
            (0.33, 0.60),
            None,
            _DIESEL_RATIO,
            "diesel",
        ),
    }
)
