"""The second run sends every statement of the first."""

from contextlib import suppress

import pytest
from django.contrib.auth import get_user_model
from django.db import DatabaseError, IntegrityError, connection, transaction

from tests.statements import Noted, cover_of, kind_of, noting, read_notes, shape_of


def test_the_chosen_tests_send_every_statement():
    notes = [
        Noted("slow", 2.0, frozenset("abcd")),
        Noted("front", 0.1, frozenset("ab")),
        Noted("rest", 0.1, frozenset("cd")),
        Noted("mixed", 9.0, frozenset("ae")),
        Noted("quick", 0.01, frozenset("e")),
    ]
    assert cover_of(notes) == {"front", "rest", "quick"}
    assert cover_of(notes, known="ab") == {"rest", "quick"}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (1, 2**15),
        (2**15, 2**31),
        (2**31, 2**63),
        ("plate", "pl\0ate"),
        ("Muller", "Müller"),
        (1.0, float("nan")),
        (True, 1),
        ("x", "x" * 300),
        ("x" * 30, "x" * 60),
        ("[1]", "[NaN]"),
        ("{}", r'{"a": "\u0000"}'),
        ((1, 2), (1, None)),
    ],
)
def test_values_that_a_database_may_take_differently_differ(one, other):
    assert kind_of(one) != kind_of(other)


def test_lists_of_any_length_are_alike_and_a_refusal_is_another():
    short, long = "IN (%s, %s)", "IN (%s, %s, %s)"
    assert shape_of(short, (1, 2), "") == shape_of(long, (1, 2, 3), "")
    assert shape_of(short, (1, 2), "") != shape_of(short, (1, 2), "IntegrityError")


def test_statements_of_this_thread_are_noted(db):
    found: set[str] = set()
    with noting(found):
        get_user_model().objects.create(username="twice")
        assert len(found) == 1
        with pytest.raises(IntegrityError), transaction.atomic():
            get_user_model().objects.create(username="twice")
    assert len(found) == 2


def test_where_a_kind_stands_counts():
    sql = "UPDATE plates SET a = %s, b = %s"
    assert shape_of(sql, ("x", "é"), "") != shape_of(sql, ("é", "x"), "")


def test_a_lock_and_what_follows_a_refusal_are_others(db):
    people = get_user_model().objects.order_by("pk")

    def noted(act) -> set[str]:
        found: set[str] = set()
        with noting(found):
            act()
        return found

    def after_refusal() -> None:
        with suppress(DatabaseError), connection.cursor() as cursor:
            cursor.execute("SELECT nothing_of_that_name")
        list(people)

    plain = noted(lambda: list(people))
    assert noted(lambda: list(people.select_for_update())) - plain
    if connection.vendor == "sqlite":
        assert not plain & noted(after_refusal)


def test_a_first_run_that_left_no_notes_stops_the_second(tmp_path):
    with pytest.raises(pytest.UsageError):
        read_notes(tmp_path)
