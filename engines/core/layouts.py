"""Engine layouts: how many cylinders, in how many banks, and at what angle between them."""

from dataclasses import dataclass
from enum import StrEnum

from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop, ngettext


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
                ngettext(
                    "The layout “{layout}” has {count} cylinder, but the firing order names "
                    "{named}; change one of the two.",
                    "The layout “{layout}” has {count} cylinders, but the firing order names "
                    "{named}; change one of the two.",
                    self.cylinders,
                ).format(layout=_(self.name), count=self.cylinders, named=cylinders)
            )


def _inline(cylinders: int, name: str) -> Layout:
    return Layout(f"I{cylinders}", name, Family.INLINE, cylinders)


def _flat(cylinders: int, name: str) -> Layout:
    return Layout(f"F{cylinders}", name, Family.FLAT, cylinders, ("A", "B"), 180.0)


def _vee(
    cylinders: int,
    name: str,
    bank_angle_deg: float | None,
    *,
    odd_fire: bool = False,
    plain: bool = True,
) -> Layout:
    key = f"V{cylinders}" if plain else f"V{cylinders}-odd"
    return Layout(key, name, Family.VEE, cylinders, ("A", "B"), bank_angle_deg, odd_fire)


# Bank angles: 60 degrees is usual for V6 and V12, 90 for V8 and the odd-fire V6
# (common practice); the other vees differ by maker.
_ALL = (
    _inline(1, gettext_noop("Single cylinder")),
    _inline(2, gettext_noop("Inline twin")),
    _inline(3, gettext_noop("Inline three")),
    _inline(4, gettext_noop("Inline four")),
    _inline(5, gettext_noop("Inline five")),
    _inline(6, gettext_noop("Inline six")),
    _inline(8, gettext_noop("Inline eight")),
    _flat(2, gettext_noop("Flat twin")),
    _flat(4, gettext_noop("Flat four")),
    _flat(6, gettext_noop("Flat six")),
    _vee(2, gettext_noop("V twin"), None, odd_fire=True),
    _vee(4, gettext_noop("V4"), None),
    _vee(6, gettext_noop("V6"), 60.0),
    _vee(6, gettext_noop("V6, odd-fire"), 90.0, odd_fire=True, plain=False),
    _vee(8, gettext_noop("V8"), 90.0),
    _vee(10, gettext_noop("V10"), None),
    _vee(10, gettext_noop("V10, odd-fire"), 90.0, odd_fire=True, plain=False),
    _vee(12, gettext_noop("V12"), 60.0),
    Layout("other", gettext_noop("Another layout"), Family.OTHER, None, ("A", "B")),
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
        raise LayoutError(
            _("There is no layout “{key}”; choose one of the list.").format(key=key[:20])
        ) from None
