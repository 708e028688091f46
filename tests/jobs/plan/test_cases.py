"""The plan's first three tests against those that a master technician would make.

The vehicles, their tests and the reasons stand in `cases.toml`, those that nothing was tuned on in
`kept_aside.toml`, those written before a change of the plan in `fresh.toml` and `wide.toml`, those
written after one in `unseen.toml` and `asked_once.toml`.
"""

import pytest

from jobs.core.groups import FaultGroup
from jobs.core.plan.knowledge import CAUSES, TESTS
from tests.jobs.plan.cases import cases_of

CASES = cases_of("cases.toml")
KEPT_ASIDE = cases_of("kept_aside.toml")
FRESH = cases_of("fresh.toml")
UNSEEN = cases_of("unseen.toml")
WIDE = cases_of("wide.toml")
ASKED_ONCE = cases_of("asked_once.toml")
LEAST_AGREEING = 44
LEAST_BESIDE = {
    "kept_aside.toml": {"begin alike": 15, "agree": 11, "lead": 14, "none leads wrongly": 15},
    "fresh.toml": {"begin alike": 17, "agree": 17, "lead": 17, "none leads wrongly": 17},
    "unseen.toml": {"begin alike": 9, "agree": 9, "lead": 10, "none leads wrongly": 10},
    "wide.toml": {"begin alike": 20, "agree": 16, "lead": 20, "none leads wrongly": 20},
    "asked_once.toml": {"begin alike": 7, "agree": 4, "lead": 8, "none leads wrongly": 8},
}
"""What the plan reaches on vehicles that were seen once (docs/plan.md has all figures)."""


@pytest.fixture(params=CASES, ids=lambda case: case.name)
def case(request):
    return request.param


def test_the_first_tests_are_those_of_a_technician(case):
    noted = case.table.get("plan")
    if noted is None:
        assert case.agrees, case.first_of_plan(6)
    else:
        assert [t.key for t in case.plan.tests[: len(noted)]] == noted
        assert case.table["why_plan"]
        assert len(set(noted) & frozenset().union(*case.wanted)) >= 1


def test_most_agree_without_a_note():
    assert sum(case.agrees for case in CASES) >= LEAST_AGREEING


def test_a_note_stands_only_where_the_plan_does_otherwise():
    assert not [c.name for c in CASES if c.agrees and "plan" in c.table]


@pytest.mark.parametrize(
    ("name", "cases"),
    [
        ("kept_aside.toml", KEPT_ASIDE),
        ("fresh.toml", FRESH),
        ("unseen.toml", UNSEEN),
        ("wide.toml", WIDE),
        ("asked_once.toml", ASKED_ONCE),
    ],
)
def test_vehicles_beside_agree_no_less_than_before(name, cases):
    plans = [(case, case.plan) for case in cases]
    found = {
        "begin alike": sum(case.begins_alike for case in cases),
        "agree": sum(case.agrees for case in cases),
        "lead": sum(plan.causes[0].key in case.table["leads"] for case, plan in plans),
        "none leads wrongly": sum(
            not {cause.key for cause in plan.leading} & set(case.table["not_leading"])
            for case, plan in plans
        ),
    }
    assert all(found[key] >= least for key, least in LEAST_BESIDE[name].items()), found


def test_the_right_cause_leads(case):
    plan = case.plan
    assert plan.causes[0].key in case.table["leads"]
    leading = {cause.key for cause in plan.leading}
    assert not leading & set(case.table.get("not_leading", ()))


def test_only_what_a_test_shows_is_shown(case):
    shown = {cause.key for cause in case.plan.causes if cause.standing == "shown"}
    assert shown == set(case.table.get("shown", ()))


def test_what_does_harm_or_says_nothing_is_not_asked_for(case):
    assert not {t.key for t in case.plan.tests} & set(case.table.get("never", ()))


@pytest.mark.parametrize(
    "case", [*CASES, *KEPT_ASIDE, *FRESH, *UNSEEN, *WIDE, *ASKED_ONCE], ids=lambda case: case.name
)
def test_cases_name_what_the_plan_knows(case):
    table = case.table
    assert frozenset().union(*case.wanted) <= set(TESTS)
    assert set(table["leads"]) | set(table.get("not_leading", ())) <= set(CAUSES)
    assert table["reason"]
    assert table["source"]


def test_every_cause_belongs_to_a_group():
    assert {cause.group for cause in CAUSES.values()} <= set(FaultGroup)
