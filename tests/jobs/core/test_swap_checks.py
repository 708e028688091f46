"""Swap tests whose counts or answers do not fit each other; no database."""

import pytest

from jobs.core.swap_checks import SwapAnswer, contradictions_of_swaps, doubts_about_swap

LABELS = {"coil": "Coil", "plug": "Plug"}


def _swap(followed="yes", *, from_cylinder=2, to_cylinder=3, part="coil"):
    return SwapAnswer(part, from_cylinder, to_cylinder, followed)


@pytest.mark.parametrize(
    ("before", "after", "asked"),
    [
        ({}, {}, 0),
        ({2: 340, 3: 3}, {2: 2, 3: 331}, 0),
        ({1: 0, 2: 340, 3: 3, 4: 1}, {2: 2, 3: 331}, 0),
        # the misfire was on the cylinder that the part went to
        ({2: 3, 3: 340}, {2: 5, 3: 331}, 1),
        ({1: 340, 2: 12, 3: 0, 4: 0}, {1: 340, 2: 0, 3: 12, 4: 0}, 1),
        ({1: 0, 2: 0, 3: 0, 4: 0}, {}, 1),
        ({2: 300, 3: 310}, {2: 290, 3: 320}, 1),
        # one of the two was not counted
        ({3: 3, 4: 0}, {}, 1),
        ({2: 340}, {}, 1),
        ({2: 340, 3: 3}, {3: 331}, 1),
        # lists differ, totals are far apart
        ({1: 0, 2: 340, 3: 3, 4: 1}, {2: 1, 3: 34}, 1),
    ],
)
@pytest.mark.parametrize("followed", ["yes", "no"])
def test_counts_that_do_not_show_the_misfire_are_asked_back(before, after, asked, followed):
    assert len(doubts_about_swap(_swap(followed), before, after)) == asked


def test_totals_may_differ_where_the_misfire_changed():
    assert not doubts_about_swap(_swap("changed"), {2: 340, 3: 3}, {2: 1, 3: 34})


@pytest.mark.parametrize(
    ("swaps", "told"),
    [
        ([_swap("yes"), _swap("no")], 1),
        ([_swap("yes"), _swap("no"), _swap("no")], 1),
        ([_swap("yes"), _swap("no", to_cylinder=4)], 1),
        # moved back: the misfire comes back with it, or it does not
        ([_swap("yes"), _swap("yes", from_cylinder=3, to_cylinder=2)], 0),
        ([_swap("yes"), _swap("no", from_cylinder=3, to_cylinder=2)], 1),
        ([_swap("yes"), _swap("yes")], 0),
        ([_swap("yes"), _swap("changed")], 0),
        ([_swap("yes"), _swap("no", part="plug")], 0),
        ([_swap("yes"), _swap("no", from_cylinder=1, to_cylinder=4)], 0),
    ],
)
def test_answers_of_one_part_that_contradict_are_told(swaps, told):
    assert len(contradictions_of_swaps(swaps, LABELS)) == told
