"""Vehicles that came back soon after they were delivered, and what is the same as then."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

COMEBACK_DAYS = 90
"""Within how many days after delivery a vehicle counts as back; a choice, no standard says it."""


@dataclass(frozen=True, slots=True)
class Stay:
    """One visit of a vehicle."""

    visit: int
    vehicle: int
    opened_at: datetime
    closed_at: datetime | None
    codes: frozenset[str] = field(default_factory=frozenset)
    cylinders: frozenset[int] = field(default_factory=frozenset)
    """As the verdict that stands names them."""
    comeback_of: int | None = None
    """The earlier visit that it comes back for, as a person says."""


@dataclass(frozen=True, slots=True)
class Comeback:
    """A visit soon after an earlier one of the same vehicle."""

    later: int
    earlier: int
    days: int
    codes: tuple[str, ...]
    cylinders: tuple[int, ...]
    is_said: bool = False
    """Whether a person says that it comes back for the earlier one."""

    @property
    def is_same(self) -> bool:
        """Whether both share a trouble code or a cylinder that was signed for."""
        return bool(self.codes or self.cylinders)


def comebacks(stays: Iterable[Stay], since: datetime) -> tuple[Comeback, ...]:
    """Return the visits opened from `since` on that are comebacks, the newest first."""
    by_vehicle: dict[int, list[Stay]] = {}
    for stay in sorted(stays, key=lambda s: s.visit):
        by_vehicle.setdefault(stay.vehicle, []).append(stay)
    found = [
        pair
        for row in by_vehicle.values()
        for later, stay in enumerate(row)
        if stay.opened_at >= since and (pair := _pair(stay, row[:later]))
    ]
    return tuple(sorted(found, key=lambda pair: -pair.later))


def _pair(later: Stay, before: list[Stay]) -> Comeback | None:
    """Return a visit with the one it comes back for, or the last delivered soon before it."""
    said = next((s for s in before if s.visit == later.comeback_of), None)
    if said is not None:
        return _together(later, said, is_said=True)
    delivered = [s for s in before if s.closed_at is not None and s.closed_at <= later.opened_at]
    if not delivered:
        return None
    if not is_soon(later.opened_at, delivered[-1].closed_at):
        return None
    return _together(later, delivered[-1])


def is_soon(opened_at: datetime, closed_at: datetime | None) -> bool:
    """Return whether a visit was opened soon after another was delivered."""
    if closed_at is None or closed_at > opened_at:
        return False
    return opened_at - closed_at <= timedelta(days=COMEBACK_DAYS)


def _together(later: Stay, earlier: Stay, *, is_said: bool = False) -> Comeback:
    away = later.opened_at - (earlier.closed_at or later.opened_at)
    return Comeback(
        later=later.visit,
        earlier=earlier.visit,
        days=max(0, away.days),
        codes=tuple(sorted(later.codes & earlier.codes)),
        cylinders=tuple(sorted(later.cylinders & earlier.cylinders)),
        is_said=is_said,
    )
