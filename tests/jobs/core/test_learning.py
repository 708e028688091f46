"""How calls fared, counted by hand."""

import pytest

from jobs.core.customer_words import CylindersTested
from jobs.core.learning import (
    LEAST_CHECKED,
    CallChecked,
    JobFinished,
    calls_checked,
    cause_counts,
    hit_rate,
    hit_rates,
)
from jobs.core.learning_words import confirmed_line
from jobs.core.proportion import Proportion
from tests.wording import says_only

CALLS = {1: "sound", 2: "suspect", 3: "watch", 4: "sound", 5: "open"}


def measured(bad=(), good=()) -> CylindersTested:
    return CylindersTested(bad=frozenset(bad), good=frozenset(good))


def call(visit, cylinder, called="suspect", is_bad=True, engine=1) -> CallChecked:
    return CallChecked(visit, cylinder, engine, "starter-current", called, is_bad)


def test_only_what_was_measured_is_checked():
    found = calls_checked(7, 3, "crank-teeth", CALLS, measured(bad=[2, 4], good=[1]))
    assert [(c.cylinder, c.called, c.is_bad) for c in found] == [
        (1, "sound", False),
        (2, "suspect", True),
        (4, "sound", True),
    ]
    assert {(c.visit, c.engine, c.signal) for c in found} == {(7, 3, "crank-teeth")}
    assert calls_checked(7, 3, "crank-teeth", CALLS, measured()) == ()
    # a plug that was out says nothing, nor does a cylinder that nobody called
    assert calls_checked(7, 3, "crank-teeth", CALLS, measured(bad=[5], good=[6])) == ()


def test_kinds_of_calls_are_counted_apart():
    rate = hit_rate(
        [
            call(1, 1),
            call(1, 2, is_bad=False),
            call(1, 3, "sound", is_bad=False),
            call(2, 1, "sound", is_bad=True),
            call(2, 2, "watch", is_bad=True),
        ]
    )
    assert rate.suspect == Proportion(1, 2)
    assert rate.sound == Proportion(1, 2)
    assert rate.watch == Proportion(1, 1)
    assert rate.checked == 5


def test_a_cylinder_counts_once_a_visit():
    rate = hit_rate([call(1, 1), call(1, 1), call(2, 1)])
    assert rate.suspect == Proportion(2, 2)


def test_engines_are_told_apart_the_most_checked_first():
    rates = hit_rates([call(1, 1, engine=1), *(call(n, 1, engine=2) for n in (2, 3))], _engine)
    assert [(engine, rate.suspect.total) for engine, rate in rates.items()] == [(2, 2), (1, 1)]


def _engine(one: CallChecked) -> int | None:
    return one.engine


def test_causes_have_denominators():
    jobs = [
        JobFinished(1, 5, "ignition", is_proven=True),
        JobFinished(1, 5, "ignition", is_proven=True),  # the same job again
        JobFinished(2, 5, "ignition", is_proven=False),
        JobFinished(3, 5, "fuel", is_proven=True),
        JobFinished(4, 5, "", is_proven=False),
        JobFinished(5, None, "fuel", is_proven=True),
    ]
    found = [(c.engine, c.group, c.found, c.proven) for c in cause_counts(jobs)]
    assert found == [
        (5, "ignition", Proportion(2, 4), 1),
        (5, "fuel", Proportion(1, 4), 1),
        (None, "fuel", Proportion(1, 1), 1),
    ]


LINES = {
    ("suspect", True): "learning.suspect-own",
    ("suspect", False): "learning.suspect-any",
    ("good", True): "learning.good-own",
    ("good", False): "learning.good-any",
}


@pytest.mark.parametrize("kind", ["suspect", "good"])
@pytest.mark.parametrize("own", [True, False])
def test_the_line_says_count_and_interval(kind, own):
    nine = [call(n, 1, is_bad=n < 9) for n in range(10)]
    if kind == "good":
        nine = [call(n, 1, "sound", is_bad=n >= 9) for n in range(10)]
    line = confirmed_line(hit_rate(nine), is_uneven=kind == "suspect", on_this_engine=own)
    # Wilson's interval of 9 of 10: 0.596 to 0.982 (computed by hand from the formula)
    assert says_only(line, LINES[kind, own], count=9, total=10, low=60, high=98)
    assert confirmed_line(hit_rate(nine), is_uneven=kind != "suspect", on_this_engine=own) == ""


def test_too_few_say_nothing():
    few = [call(n, 1) for n in range(LEAST_CHECKED - 1)]
    assert confirmed_line(hit_rate(few), is_uneven=True, on_this_engine=True) == ""
    enough = [*few, call(99, 1)]
    assert confirmed_line(hit_rate(enough), is_uneven=True, on_this_engine=True)
