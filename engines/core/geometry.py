"""One engine as core code sees it: firing order, layout and where the cylinders sit."""

from dataclasses import dataclass

from engines.core.firing import FiringOrder
from engines.core.layouts import Family, Layout
from engines.core.positions import PositionError, Positions, check_banks, neighbours_of
from shopdiag.people.core.words import gettext as _


@dataclass(frozen=True)
class EngineGeometry:
    """An engine's firing order, its layout and the place of every cylinder.

    Parameters
    ----------
    name
        What people call the engine.
    layout
        Cylinders and banks.
    order
        Which cylinder fires when.
    places
        Where each cylinder of `order` sits.

    Raises
    ------
    LayoutError
        If the layout has another number of cylinders.
    PositionError
        If `places` are not those of the cylinders in `order`, or not on the layout's banks.
    """

    name: str
    layout: Layout
    order: FiringOrder
    places: Positions

    def __post_init__(self) -> None:
        self.layout.check_cylinders(len(self.order))
        if set(self.places) != set(self.order.sequence):
            raise PositionError(_("The places are not those of the cylinders in the firing order."))
        if self.layout.family is not Family.OTHER:
            check_banks(self.layout, self.places)

    def neighbours_of(self, cylinder: int) -> tuple[int, ...]:
        """Return the cylinders beside `cylinder` on its bank, the front one first."""
        return neighbours_of(self.places, cylinder)

    def companion_of(self, cylinder: int) -> int | None:
        """Return the cylinder one crank turn (360 degrees) away, if there is one."""
        return self.order.companion_of(cylinder)
