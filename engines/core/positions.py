"""Where a cylinder sits on the engine: bank and place, and who its neighbours are."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from engines.core.layouts import Layout
from shopdiag.people.core.words import gettext as _
from shopdiag.people.core.words import gettext_noop


def view_from(*, has_banks: bool) -> str:
    """Return what the words for places, and for banks where there are any, mean."""
    if has_banks:
        return _(
            "Front = the end opposite the flywheel or gearbox; banks A and B as marked on the "
            "drawing. Numbering differs by manufacturer: confirm on the engine."
        )
    return _(
        "Front = the end opposite the flywheel or gearbox. Numbering differs by manufacturer: "
        "confirm on the engine."
    )


_ORDINALS = (
    gettext_noop("first from the front"),
    gettext_noop("second from the front"),
    gettext_noop("third from the front"),
    gettext_noop("fourth from the front"),
    gettext_noop("fifth from the front"),
    gettext_noop("sixth from the front"),
    gettext_noop("seventh from the front"),
    gettext_noop("eighth from the front"),
)


_BANK_LINE = re.compile(
    r"(?:(?:bank\s*)?(?P<bank>[A-Za-z])\s*[:.=]?\s*)?(?P<cylinders>\d{1,2}(?:[\s,;–-]+\d{1,2})*)",
    re.IGNORECASE,
)


class PositionError(ValueError):
    """The cylinders' places cannot be those of the engine; the text says why."""


@dataclass(frozen=True, slots=True)
class Place:
    """The place of one cylinder.

    Parameters
    ----------
    bank
        Bank letter, "" where the engine has a single row.
    place
        Place in that row, counted from the front, 1-based.
    places
        How many cylinders that row has.
    """

    bank: str
    place: int
    places: int

    @property
    def words(self) -> str:
        """The place in words, such as 'bank A, second from the front'."""
        return self.words_in(_("bank {bank}").format(bank=self.bank))

    def words_in(self, bank: str) -> str:
        """Return the place in words, its bank called so."""
        if self.places == 1:
            if not self.bank:
                return _("the only cylinder")
            return _("{bank}, the only cylinder of its bank").format(bank=bank)
        place = _("{place}th from the front").format(place=self.place)
        if self.place <= len(_ORDINALS):
            place = _(_ORDINALS[self.place - 1])
        if self.place == self.places:
            place = _("{place} (next to the flywheel)").format(place=place)
        return _("{bank}, {place}").format(bank=bank, place=place) if self.bank else place


class Numbering(StrEnum):
    """How a maker counts cylinders; which one applies is the user's to confirm."""

    FRONT = "front"
    ALTERNATING = "alternating"
    DRIVING_END = "driving-end"


NUMBERING_WORDS: dict[Numbering, str] = {
    Numbering.FRONT: gettext_noop(
        "From the front, bank A first and then bank B (DIN 73021 counts this way)"
    ),
    Numbering.ALTERNATING: gettext_noop(
        "From the front, odd numbers on bank A and even ones on bank B"
    ),
    Numbering.DRIVING_END: gettext_noop(
        "From the flywheel end, bank A first and then bank B (as ISO 1204)"
    ),
}

Positions = Mapping[int, Place]


def places_by_numbering(layout: Layout, cylinders: int, numbering: Numbering) -> dict[int, Place]:
    """Return where every cylinder sits when the maker counts by `numbering`.

    Raises
    ------
    PositionError
        If the cylinders do not split evenly over the layout's banks.
    """
    banks = layout.banks
    if cylinders % len(banks):
        raise PositionError(
            _(
                "{cylinders} cylinders do not split evenly over {count} banks; type "
                "where each one sits."
            ).format(cylinders=cylinders, count=len(banks))
        )
    places = cylinders // len(banks)
    found = {}
    for cylinder in range(1, cylinders + 1):
        if numbering is Numbering.ALTERNATING:
            place_idx, bank_idx = divmod(cylinder - 1, len(banks))
        else:
            bank_idx, place_idx = divmod(cylinder - 1, places)
        if numbering is Numbering.DRIVING_END:
            place_idx = places - 1 - place_idx
        found[cylinder] = Place(banks[bank_idx], place_idx + 1, places)
    return found


def checked_places(rows: Iterable[tuple[int, str, int]], cylinders: int) -> dict[int, Place]:
    """Return the places of `(cylinder, bank, place)` rows, by cylinder number.

    Raises
    ------
    PositionError
        If a cylinder is missing, stands twice or is unknown, if two share a place, or if a
        bank's places do not run from 1 without a gap.
    """
    seen = _each_once(rows, cylinders)
    by_bank: dict[str, set[int]] = {}
    for bank, place in seen.values():
        by_bank.setdefault(bank, set()).add(place)
    if "" in by_bank and len(by_bank) > 1:
        raise PositionError(
            _("Some cylinders have a bank and some have none; give each one a bank.")
        )
    for bank, used in sorted(by_bank.items()):
        if used != set(range(1, len(used) + 1)):
            gap = _("The places of the row must run from 1 at the front to {count} without a gap.")
            if bank:
                gap = _(
                    "The places of bank {bank} must run from 1 at the front to {count} without a "
                    "gap."
                )
            raise PositionError(gap.format(bank=bank, count=len(used)))
    return {c: Place(b, p, len(by_bank[b])) for c, (b, p) in sorted(seen.items())}


def _each_once(rows: Iterable[tuple[int, str, int]], cylinders: int) -> dict[int, tuple[str, int]]:
    taken: dict[tuple[str, int], int] = {}
    seen: dict[int, tuple[str, int]] = {}
    for cylinder, bank, place in rows:
        if not 1 <= cylinder <= cylinders:
            raise PositionError(
                _(
                    "Cylinder {cylinder} has a place, but the engine has cylinders 1 to "
                    "{cylinders}."
                ).format(cylinder=cylinder, cylinders=cylinders)
            )
        if cylinder in seen:
            raise PositionError(
                _("Cylinder {cylinder} is given two places; keep one.").format(cylinder=cylinder)
            )
        where = (bank, place)
        if where in taken:
            raise PositionError(
                _("Cylinders {taken} and {cylinder} share one place; move one of them.").format(
                    taken=taken[where], cylinder=cylinder
                )
            )
        taken[where] = cylinder
        seen[cylinder] = where
    missing = next((c for c in range(1, cylinders + 1) if c not in seen), None)
    if missing is not None:
        raise PositionError(
            _("Cylinder {missing} has no place yet; say where it sits.").format(missing=missing)
        )
    return seen


def bank_labels(banks: Sequence[Collection[int]]) -> tuple[str, ...]:
    """Return what banks are called, such as "bank A (bank 1)" and "bank B (bank 2)".

    Parameters
    ----------
    banks
        Cylinder numbers of each bank, A first. Fault codes call the bank of cylinder 1 bank 1
        (SAE J2012; from memory); with more than two banks the letters have to do.
    """
    letters = [chr(ord("A") + i) for i in range(len(banks))]
    if len(banks) != 2:
        return tuple(_("bank {bank}").format(bank=letter) for letter in letters)
    first = min(range(2), key=lambda i: min(banks[i]))
    return tuple(
        _("bank {bank} (bank {number})").format(bank=letter, number=1 if i == first else 2)
        for i, letter in enumerate(letters)
    )


def bank_numbers(banks: Sequence[Collection[int]] | None) -> dict[int, int]:
    """Return the bank, 1 or 2 as fault codes count them, of each cylinder of two banks.

    Empty where there are not two: codes of engines with one row all name bank 1.
    """
    if banks is None or len(banks) != 2:
        return {}
    first = min(range(2), key=lambda i: min(banks[i]))
    return {c: 1 if i == first else 2 for i, bank in enumerate(banks) for c in bank}


def place_words(positions: Positions, cylinder: int) -> str:
    """Return where a cylinder sits, its bank by letter and number: 'bank A (bank 1), first …'."""
    place = positions[cylinder]
    number = bank_numbers(cylinders_by_bank(positions)).get(cylinder)
    if number is None:
        return place.words
    bank = _("bank {bank} (bank {number})").format(bank=place.bank, number=number)
    return place.words_in(bank)


def cylinders_by_bank(positions: Positions) -> tuple[tuple[int, ...], ...]:
    """Return the cylinders of each bank from the front, bank A first; empty where there is one."""
    banks = front_first(positions)
    return tuple(tuple(numbers) for numbers in banks.values()) if len(banks) > 1 else ()


def check_banks(layout: Layout, positions: Positions) -> None:
    """Raise a PositionError unless the cylinders share out evenly over the layout's banks."""
    banks = front_first(positions)
    if tuple(banks) != layout.banks:
        wanted = (
            _("banks {first} and {second}").format(first=layout.banks[0], second=layout.banks[1])
            if len(layout.banks) > 1
            else _("one row, no bank")
        )
        raise PositionError(
            _("“{name}” has {wanted}; write its cylinders that way.").format(
                name=_(layout.name), wanted=wanted
            )
        )
    counts = {bank: len(numbers) for bank, numbers in banks.items()}
    if len(set(counts.values())) > 1:
        shown = _("{first} on bank {bank} and {second} on bank {other}").format(
            **dict(zip(("bank", "other"), counts, strict=True)),
            **dict(zip(("first", "second"), counts.values(), strict=True)),
        )
        raise PositionError(
            _("“{name}” has as many cylinders on each bank, not {shown}.").format(
                name=_(layout.name), shown=shown
            )
        )


def read_places(text: str, cylinders: int) -> dict[int, Place]:
    """Read one line for each bank, its cylinders from the front: 'A: 1 3 5' and 'B: 2 4 6'.

    A single row needs no letter: '1 2 3 4'. Lines may also be split by a slash.

    Raises
    ------
    PositionError
        If a line cannot be read, or the places are not those of `cylinders` cylinders.
    """
    lines = [line.strip() for line in re.split(r"[\n/]", text) if line.strip()]
    rows: list[tuple[int, str, int]] = []
    banks: set[str] = set()
    for line in lines:
        found = _BANK_LINE.fullmatch(line)
        if found is None:
            raise PositionError(
                _(
                    "“{line}” is not a bank; write its letter and its cylinders from the "
                    "front, like A: 1 3 5 7."
                ).format(line=line[:40])
            )
        bank = (found["bank"] or "").upper()
        if bank in banks:
            if not bank:
                raise PositionError(
                    _(
                        "Rows without a bank letter take two lines; give each bank one line with "
                        "its letter."
                    )
                )
            raise PositionError(
                _("Bank {bank} has two lines; give each bank one line with its letter.").format(
                    bank=bank
                )
            )
        banks.add(bank)
        numbers = re.findall(r"\d+", found["cylinders"])
        rows += [(int(number), bank, place) for place, number in enumerate(numbers, start=1)]
    return checked_places(rows, cylinders)


def write_places(positions: Positions) -> str:
    """Return the places as `read_places` reads them."""
    return "\n".join(
        (f"{bank}: " if bank else "") + " ".join(map(str, numbers))
        for bank, numbers in front_first(positions).items()
    )


def numbering_of(layout: Layout, positions: Positions) -> Numbering | None:
    """Return the numbering that gives these places, None where none does."""
    for numbering in Numbering:
        try:
            if places_by_numbering(layout, len(positions), numbering) == positions:
                return numbering
        except PositionError:
            return None
    return None


def neighbours_of(positions: Positions, cylinder: int) -> tuple[int, ...]:
    """Return the cylinders beside `cylinder` on the same bank, the front one first.

    Two low neighbours and no change in a wet test point at the gasket between them.
    """
    own = positions[cylinder]
    beside = {
        place.place: number
        for number, place in positions.items()
        if place.bank == own.bank and abs(place.place - own.place) == 1
    }
    return tuple(beside[place] for place in sorted(beside))


def front_first(positions: Positions) -> dict[str, tuple[int, ...]]:
    """Return each bank's cylinders from the front to the flywheel end, banks in order."""
    banks: dict[str, list[tuple[int, int]]] = {}
    for number, place in positions.items():
        banks.setdefault(place.bank, []).append((place.place, number))
    return {bank: tuple(n for _place, n in sorted(banks[bank])) for bank in sorted(banks)}
