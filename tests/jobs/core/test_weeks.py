"""Counting by week."""

from datetime import date
from typing import Any

from jobs.core.verdict_checks import Check
from jobs.core.weeks import (
    WEEKS,
    MinutesBooked,
    OrderDone,
    VerdictSigned,
    WeekRow,
    first_monday,
    monday_of,
    week_rows,
)

TODAY = date(2026, 12, 2)  # a Wednesday


def rows(**given: Any) -> tuple[WeekRow, ...]:
    nothing: dict[str, Any] = {"taken_in": [], "delivered": [], "orders": [], "verdicts": []}
    return week_rows(TODAY, **(nothing | given))


def test_a_week_begins_on_monday():
    assert monday_of(date(2026, 11, 30)) == date(2026, 11, 30)
    assert monday_of(date(2026, 12, 6)) == date(2026, 11, 30)
    assert monday_of(date(2026, 11, 29)) == date(2026, 11, 23)
    # over the turn of a year
    assert monday_of(date(2027, 1, 1)) == date(2026, 12, 28)


def test_each_falls_into_its_week():
    this, last = rows(
        taken_in=[date(2026, 11, 29), date(2026, 11, 30), TODAY],
        delivered=[date(2026, 11, 23)],
        orders=[OrderDone(TODAY, 90), OrderDone(TODAY, None), OrderDone(date(2026, 11, 24), 45)],
        verdicts=[
            VerdictSigned(TODAY, Check.CONFIRMED),
            VerdictSigned(TODAY, Check.NOT_CHECKED),
            VerdictSigned(date(2026, 11, 27), Check.NOT_CONFIRMED),
        ],
    )
    assert (this.monday, this.sunday) == (date(2026, 11, 30), date(2026, 12, 6))
    assert (this.taken_in, this.delivered) == (2, 0)
    assert (this.orders_done, this.hours, this.orders_without_time) == (2, 1.5, 1)
    assert (this.confirmed, this.checked, this.not_checked) == (1, 1, 1)
    assert (last.taken_in, last.delivered, last.orders_done, last.hours) == (1, 1, 1, 0.75)
    assert (last.confirmed, last.checked, last.not_checked) == (0, 1, 0)


def test_used_hours_are_those_of_orders_with_a_time():
    (this,) = rows(
        orders=[OrderDone(TODAY, 90, 100), OrderDone(TODAY, None, 30)],
        booked=[MinutesBooked(TODAY, 100), MinutesBooked(TODAY, 35)],
    )
    assert (this.minutes, this.minutes_used, this.is_passed) == (90, 100, True)
    assert this.hours_booked == 2.25


def test_weeks_before_the_first_job_are_left_out_and_empty_ones_between_stay():
    assert len(rows()) == 1
    found = rows(taken_in=[date(2026, 11, 10)])
    assert [row.taken_in for row in found] == [0, 0, 0, 1]


def test_no_further_back_than_the_first_monday():
    first = first_monday(TODAY)
    found = rows(taken_in=[first])
    assert len(found) == WEEKS
    assert found[-1].monday == first
