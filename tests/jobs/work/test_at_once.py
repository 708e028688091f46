"""Two people on one work order at the same moment: both are answered, nothing is overwritten."""

import threading
import time

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from jobs.core.gauge import GaugeRule
from jobs.models import WorkOrder
from jobs.services import timeline
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import (
    work_order_accept,
    work_order_change,
    work_order_limits,
    work_order_withdraw,
)
from shopdiag.people.services import SavedMeanwhileError
from tests.wording import says


@pytest.mark.django_db(transaction=True)
def test_accepting_and_withdrawing_do_not_wait_for_each_other(order, cast, by, monkeypatch):
    told = timeline.event_add
    holds_order = threading.Event()

    def told_late(**line):
        if line["words"]() == "accepted the work order":
            holds_order.set()
            # So that the other reaches the order meanwhile; on SQLite he waits before it.
            time.sleep(1)
        return told(**line)

    monkeypatch.setattr("jobs.services.work.event_add", told_late)
    troubles: list[BaseException] = []

    def doing(what):
        try:
            what()
        except BaseException as trouble:
            troubles.append(trouble)
        finally:
            connection.close()

    first = threading.Thread(
        target=doing, args=(lambda: work_order_accept(order=order, member=cast.mechanic),)
    )
    second = threading.Thread(
        target=doing, args=(lambda: work_order_withdraw(order=order, member=by, reason="No."),)
    )
    first.start()
    assert holds_order.wait(30)
    second.start()
    first.join(60)
    second.join(60)
    assert troubles == []
    order.refresh_from_db()
    assert (order.state, order.accepted_by) == (WorkOrder.State.WITHDRAWN, cast.mechanic)


def test_a_form_opened_before_it_was_accepted_is_told(order, cast, by):
    work_order_accept(order=order, member=cast.mechanic)
    stale = WorkOrder.objects.get(pk=order.pk)
    stale.assigned_to = None
    with pytest.raises(SavedMeanwhileError) as told:
        work_order_change(
            order=stale, expected_version=order.version, member=by, fields=["assigned_to"]
        )
    current = told.value.current
    assert isinstance(current, WorkOrder)
    assert (current.assigned_to, current.changed_by) == (cast.mechanic, cast.mechanic)


def test_limits_of_a_finished_order_stay(order, by):
    work_order_withdraw(order=order, member=by, reason="No.")
    rule = GaugeRule.from_json(order.gauge_rule)
    with pytest.raises(ValidationError) as refused:
        work_order_limits(order=order, expected_version=order.version + 1, member=by, rule=rule)
    assert says(refused.value, "work.work-order-stays")


@pytest.mark.parametrize("end", ["complete", "withdraw"])
def test_an_order_that_ended_has_another_version(order, cast, by, end):
    if end == "complete":
        found = NewFinding(cylinder=3, test="gauge_dry", outcome="bad", pressure_kpa=620.0)
        finding_add(order=order, member=cast.mechanic, found=found)
        work_order_complete(order=order, member=cast.mechanic, summary="", left_out="x")
    else:
        work_order_withdraw(order=order, member=by, reason="No.")
    assert WorkOrder.objects.get(pk=order.pk).version > order.version
