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


@dataclass(frozen=True, slots=True)
class Comeback:
    """A visit soon after an earlier one of the same vehicle."""

    later: int
    earlier: int
    days: int
    codes: tuple[str, ...]
    cylinders: tuple[int, ...]

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
    """Return a visit with the last one delivered before it, if that was soon before."""
    delivered = [s for s in before if s.closed_at is not None and s.closed_at <= later.opened_at]
    if not delivered:
        return None
    earlier = delivered[-1]
    away = later.opened_at - (earlier.closed_at or later.opened_at)
    if away > timedelta(days=COMEBACK_DAYS):
        return None
    return Comeback(
        later=later.visit,
        earlier=earlier.visit,
        days=away.days,
        codes=tuple(sorted(later.codes & earlier.codes)),
        cylinders=tuple(sorted(later.cylinders & earlier.cylinders)),
    )
