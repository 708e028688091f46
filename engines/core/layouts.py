"""Engine layouts: how many cylinders, in how many banks, and at what angle between them."""

from dataclasses import dataclass
from enum import StrEnum


class Family(StrEnum):
    """How the cylinders stand to each other."""

    INLINE = "inline"
    VEE = "vee"
    FLAT = "flat"
    OTHER = "other"


class LayoutError(ValueError):
    """The layout does not exist or does not fit; the text says why."""


@dataclass(frozen=True, slots=True)
class Layout:
    """One layout.

    Parameters
    ----------
    key
        Short name kept in the database.
    name
        What people read.
    family
        How the cylinders stand to each other.
    cylinders
        Number of cylinders; None where the layout leaves it open.
    banks
        Bank letters, a single "" for one row.
    bank_angle_deg
        Usual angle between the banks; None where there is one row or makers differ.
    odd_fire
        Whether the firings are usually unevenly spaced, so that angles must be given.
    """

    key: str
    name: str
    family: Family
    cylinders: int | None
    banks: tuple[str, ...] = ("",)
    bank_angle_deg: float | None = None
    odd_fire: bool = False

    def check_cylinders(self, cylinders: int) -> None:
        """Raise a LayoutError if this layout has another number of cylinders."""
        if self.cylinders is not None and cylinders != self.cylinders:
            raise LayoutError(
                f"The layout “{self.name}” has {self.cylinders} "
                f"cylinder{'s' if self.cylinders > 1 else ''}, but the firing order names "
                f"{cylinders}; change one of the two."
            )


_COUNT = {
    1: "Single cylinder",
    2: "twin",
    3: "three",
    4: "four",
    5: "five",
    6: "six",
    8: "eight",
}


def _inline(cylinders: int) -> Layout:
    name = _COUNT[1] if cylinders == 1 else f"Inline {_COUNT[cylinders]}"
    return Layout(f"I{cylinders}", name, Family.INLINE, cylinders)


def _flat(cylinders: int) -> Layout:
    return Layout(
        f"F{cylinders}", f"Flat {_COUNT[cylinders]}", Family.FLAT, cylinders, ("A", "B"), 180.0
    )


def _vee(
    cylinders: int, bank_angle_deg: float | None, *, odd_fire: bool = False, plain: bool = True
) -> Layout:
    count = "twin" if cylinders == 2 else str(cylinders)
    name = f"V {count}" if cylinders == 2 else f"V{count}"
    if plain:
        return Layout(
            f"V{cylinders}", name, Family.VEE, cylinders, ("A", "B"), bank_angle_deg, odd_fire
        )
    return Layout(
        f"V{cylinders}-odd",
        f"{name}, odd-fire",
        Family.VEE,
        cylinders,
        ("A", "B"),
        bank_angle_deg,
        odd_fire,
    )


# Bank angles: 60 degrees is usual for V6 and V12, 90 for V8 and the odd-fire V6
# (common practice); the other vees differ by maker.
_ALL = (
    _inline(1),
    _inline(2),
    _inline(3),
    _inline(4),
    _inline(5),
    _inline(6),
    _inline(8),
    _flat(2),
    _flat(4),
    _flat(6),
    _vee(2, None, odd_fire=True),
    _vee(4, None),
    _vee(6, 60.0),
    _vee(6, 90.0, odd_fire=True, plain=False),
    _vee(8, 90.0),
    _vee(10, None),
    _vee(10, 90.0, odd_fire=True, plain=False),
    _vee(12, 60.0),
    Layout("other", "Another layout", Family.OTHER, None, ("A", "B")),
)

LAYOUTS: dict[str, Layout] = {layout.key: layout for layout in _ALL}
LAYOUT_CHOICES: list[tuple[str, str]] = [(layout.key, layout.name) for layout in _ALL]


def layout_of(key: str) -> Layout:
    """Return the layout of that key.

    Raises
    ------
    LayoutError
        If there is none.
    """
    try:
        return LAYOUTS[key]
    except KeyError:
        raise LayoutError(f"There is no layout “{key[:20]}”; choose one of the list.") from None
