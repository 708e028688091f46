"""Jobs, hours and verdicts by week; weeks begin on Monday (ISO 8601)."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from jobs.core.verdict_checks import Check

WEEKS = 12
"""How many weeks are looked back on, this one included: fewer hold too few verdicts to tell."""


@dataclass(frozen=True, slots=True)
class OrderDone:
    """A work order that was completed, and the minutes that stand on it."""

    day: date
    minutes: int | None
    used: int = 0
    """Minutes booked on it."""


@dataclass(frozen=True, slots=True)
class MinutesBooked:
    """Minutes that were booked on a job."""

    day: date
    minutes: int


@dataclass(frozen=True, slots=True)
class VerdictSigned:
    """A signed verdict and how it fared."""

    day: date
    check: Check


@dataclass(frozen=True, slots=True)
class WeekRow:
    """What happened in one week."""

    monday: date
    taken_in: int
    delivered: int
    orders_done: int
    minutes: int
    orders_without_time: int
    confirmed: int
    not_confirmed: int
    not_checked: int
    minutes_used: int = 0
    minutes_booked: int = 0

    @property
    def sunday(self) -> date:
        """Its last day."""
        return self.monday + timedelta(days=6)

    @property
    def hours(self) -> float:
        """Hours that stand on the orders done."""
        return self.minutes / 60

    @property
    def hours_used(self) -> float:
        """Hours booked on the orders done, where a time stands on the order."""
        return self.minutes_used / 60

    @property
    def hours_booked(self) -> float:
        """Hours booked in the week, on whatever job."""
        return self.minutes_booked / 60

    @property
    def is_passed(self) -> bool:
        """Whether the orders done took longer than stands on them."""
        return self.minutes_used > self.minutes

    @property
    def checked(self) -> int:
        """How many of its verdicts were checked."""
        return self.confirmed + self.not_confirmed

    @property
    def has_anything(self) -> bool:
        """Whether anything happened in it."""
        return any(
            (
                self.taken_in,
                self.delivered,
                self.orders_done,
                self.confirmed,
                self.not_confirmed,
                self.not_checked,
                self.minutes_booked,
            )
        )


def monday_of(day: date) -> date:
    """Return the first day of a day's week."""
    return day - timedelta(days=day.weekday())


def first_monday(today: date) -> date:
    """Return the first day that is looked back on."""
    return monday_of(today) - timedelta(weeks=WEEKS - 1)


def week_rows(
    today: date,
    *,
    taken_in: Iterable[date],
    delivered: Iterable[date],
    orders: Iterable[OrderDone],
    verdicts: Iterable[VerdictSigned],
    booked: Iterable[MinutesBooked] = (),
) -> tuple[WeekRow, ...]:
    """Return a row a week, this one first, back to the first in which anything happened."""
    orders = tuple(orders)
    opened, closed = _by_week(taken_in), _by_week(delivered)
    done = _by_week(order.day for order in orders)
    untimed = _by_week(order.day for order in orders if order.minutes is None)
    minutes: Counter[date] = Counter()
    used: Counter[date] = Counter()
    for order in orders:
        if order.minutes is not None:
            minutes[monday_of(order.day)] += order.minutes
            used[monday_of(order.day)] += order.used
    all_booked: Counter[date] = Counter()
    for line in booked:
        all_booked[monday_of(line.day)] += line.minutes
    checks = Counter((monday_of(v.day), v.check) for v in verdicts)
    rows = [
        WeekRow(
            monday=monday,
            taken_in=opened[monday],
            delivered=closed[monday],
            orders_done=done[monday],
            minutes=minutes[monday],
            minutes_used=used[monday],
            minutes_booked=all_booked[monday],
            orders_without_time=untimed[monday],
            confirmed=checks[monday, Check.CONFIRMED],
            not_confirmed=checks[monday, Check.NOT_CONFIRMED],
            not_checked=checks[monday, Check.NOT_CHECKED],
        )
        for monday in (monday_of(today) - timedelta(weeks=back) for back in range(WEEKS))
    ]
    while len(rows) > 1 and not rows[-1].has_anything:
        rows.pop()
    return tuple(rows)


def _by_week(days: Iterable[date]) -> Counter[date]:
    return Counter(monday_of(day) for day in days)
