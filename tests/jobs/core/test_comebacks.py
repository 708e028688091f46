"""Vehicles that came back."""

from datetime import UTC, datetime, timedelta

import pytest

from jobs.core.comebacks import COMEBACK_DAYS, Stay, comebacks

DAY0 = datetime(2026, 9, 1, 12, tzinfo=UTC)


def stay(visit, opened, closed=None, vehicle=1, **other):
    """Return a stay by its days from the first."""
    return Stay(
        visit=visit,
        vehicle=vehicle,
        opened_at=DAY0 + timedelta(days=opened),
        closed_at=None if closed is None else DAY0 + timedelta(days=closed),
        codes=frozenset(other.get("codes", ())),
        cylinders=frozenset(other.get("cylinders", ())),
    )


def pairs(*stays, since=DAY0):
    return [(p.later, p.earlier, p.days, p.is_same) for p in comebacks(stays, since)]


@pytest.mark.parametrize(
    ("then", "now", "is_same"),
    [
        ({"codes": ["P0304", "P0300"]}, {"codes": ["P0304"]}, True),
        ({"cylinders": [4]}, {"cylinders": [3, 4]}, True),
        ({"codes": ["P0304"]}, {"codes": ["P0171"]}, False),
        ({}, {}, False),
    ],
)
def test_what_is_the_same(then, now, is_same):
    assert pairs(stay(1, 0, 2, **then), stay(2, 12, **now)) == [(2, 1, 10, is_same)]


def test_what_a_person_says_counts_before_days_and_order():
    first, second = stay(1, 0, 2), stay(2, 10, 12)
    later = Stay(3, 1, DAY0 + timedelta(days=400), None, comeback_of=1)
    (pair,) = comebacks([first, second, later], DAY0 + timedelta(days=300))
    assert (pair.earlier, pair.days, pair.is_said) == (1, 398, True)
    stranger = Stay(3, 1, DAY0 + timedelta(days=400), None, comeback_of=99)
    assert comebacks([first, second, stranger], DAY0 + timedelta(days=300)) == ()


def test_what_is_the_same_is_named():
    (pair,) = comebacks(
        [
            stay(1, 0, 2, codes=["P0304", "P0300", "P0171"], cylinders=[4]),
            stay(2, 12, codes=["P0300", "P0304"], cylinders=[4]),
        ],
        DAY0,
    )
    assert pair.codes == ("P0300", "P0304")
    assert pair.cylinders == (4,)


def test_the_set_time_is_the_limit():
    assert pairs(stay(1, 0, 0), stay(2, COMEBACK_DAYS)) == [(2, 1, COMEBACK_DAYS, False)]
    assert pairs(stay(1, 0, 0), stay(2, COMEBACK_DAYS + 1)) == []


def test_another_vehicle_or_one_not_delivered_is_no_comeback():
    assert pairs(stay(1, 0, 2), stay(2, 12, vehicle=2)) == []
    assert pairs(stay(1, 0), stay(2, 12)) == []
    assert pairs(stay(1, 0, 20), stay(2, 12)) == []


def test_it_is_linked_to_the_last_delivery_before():
    assert pairs(stay(1, 0, 2), stay(2, 12, 14), stay(3, 20)) == [
        (3, 2, 6, False),
        (2, 1, 10, False),
    ]


def test_only_recent_ones_are_listed():
    since = DAY0 + timedelta(days=15)
    assert pairs(stay(1, 0, 2), stay(2, 12, 14), stay(3, 20), since=since) == [(3, 2, 6, False)]
