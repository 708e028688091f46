"""The list of work orders: whose come first, and where finished ones are."""

import pytest
from django.urls import reverse

from jobs.selectors.board import board_of
from jobs.selectors.waiting import waiting_jobs
from jobs.services.questions import question_answer, question_ask
from jobs.services.work import (
    OrderWords,
    work_order_accept,
    work_order_create,
    work_order_withdraw,
)
from tests.api.conftest import api_for
from tests.wording import says

__all__ = ["api_for"]


@pytest.fixture
def another(take_in, four, run_of, by, sign):
    """Make work orders of other jobs."""

    def make(**given):
        visit = take_in(by, engine=four)
        judgement = sign(visit, run_of(visit))
        return work_order_create(judgement=judgement, member=by, words=OrderWords(**given))

    return make


def test_the_list_puts_mine_first(client_for, order, cast, another):
    others = another(assigned_to=cast.owner)
    mine = another(assigned_to=cast.mechanic)
    taken = another()
    work_order_accept(order=taken, member=cast.mechanic)
    page = client_for(cast.mechanic).get(reverse("jobs:work-orders"))
    assert [o.pk for o in page.context["page"]] == [taken.pk, mine.pk, order.pk, others.pk]


def test_what_is_stopped_stands_first(client_for, order, cast, another):
    later = another()
    for taken in (order, later):
        work_order_accept(order=taken, member=cast.mechanic)
    ours = [order.visit_id, later.visit_id]

    def listed():
        page = client_for(cast.mechanic).get(reverse("jobs:work-orders"))
        board = board_of(cast.mechanic)
        (column,) = [c for c in board.columns if c.visits]
        orders = [o.pk for o in page.context["page"]]
        assert [o.pk for o in board.work_orders] == orders
        return orders, [v.pk for v in column.visits], [j.visit.pk for j in waiting_jobs(cast.owner)]

    in_order = ([order.pk, later.pk], ours, ours)
    assert listed() == in_order
    stop = question_ask(order=later, member=cast.mechanic, text="Coolant.", is_stop=True)
    assert listed() == ([later.pk, order.pk], ours[::-1], ours[::-1])
    question_answer(question=stop, member=cast.diagnostician, text="Go on.")
    assert set(listed()[2]) == set(ours)
    assert listed()[:2] == in_order[:2]


def test_the_list_holds_its_queries(client_for, order, cast, another, django_assert_num_queries):
    browser, address = client_for(cast.mechanic), reverse("jobs:work-orders")
    another()
    with django_assert_num_queries(5):
        browser.get(address)
    for _ in range(4):
        another(assigned_to=cast.mechanic)
    with django_assert_num_queries(5):
        browser.get(address)


def test_the_finished_ones_are_apart(client_for, order, cast, by):
    browser, address = client_for(cast.mechanic), reverse("jobs:work-orders")
    assert says(
        browser.get(address, {"show": "finished"}).content.decode(),
        "work-list.no-finished-work-order",
    )
    work_order_withdraw(order=order, member=by, reason="No.")
    assert says(browser.get(address).content.decode(), "work-list.no-open-work-order")
    assert order.request in browser.get(address, {"show": "finished"}).content.decode()
