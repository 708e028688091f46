"""The plan's first three tests against those that a master technician would make.

The vehicles, their tests and the reasons stand in `cases.toml`.
"""

import pytest

from jobs.core.groups import FaultGroup
from jobs.core.plan.knowledge import CAUSES, TESTS
from tests.jobs.plan.cases import all_cases

CASES = all_cases()
LEAST_AGREEING = 24


@pytest.fixture(params=CASES, ids=lambda case: case.name)
def case(request):
    return request.param


def first_of(plan, count):
    return [test.key for test in plan.tests[:count]]


def agrees(case):
    wanted = case.table["tests"]
    found = first_of(case.plan, len(wanted) or 1)
    begins_alike = "any_first" in case.table or found[:1] == wanted[:1]
    return begins_alike and set(found) == set(wanted)


def test_the_first_tests_are_those_of_a_technician(case):
    noted = case.table.get("plan")
    if noted is None:
        assert agrees(case), first_of(case.plan, 6)
    else:
        assert first_of(case.plan, len(noted)) == noted
        assert case.table["why_plan"]
        assert len(set(noted) & set(case.table["tests"])) >= 1


def test_most_agree_without_a_note():
    assert sum(agrees(case) for case in CASES) >= LEAST_AGREEING


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


def test_cases_name_what_the_plan_knows(case):
    table = case.table
    assert set(table["tests"]) <= set(TESTS)
    assert set(table["leads"]) | set(table.get("not_leading", ())) <= set(CAUSES)
    assert table["reason"]
    assert table["source"]


def test_every_cause_belongs_to_a_group():
    assert {cause.group for cause in CAUSES.values()} <= set(FaultGroup)
