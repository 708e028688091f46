"""A test of a cylinder stands in one row, however often it was entered."""

from typing import Any

import pytest
from django.urls import reverse

from jobs.models import CylinderFinding
from jobs.selectors.findings import current_findings, finding_words, summary_draft
from jobs.selectors.order_draft import order_draft
from jobs.selectors.work import visit_work
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from tests.jobs.work.kept_order import cast, kept, order, taken, visit

__all__ = ["cast", "kept", "order", "taken", "visit"]

FIRST = {
    "gauge_dry": {"pressure_kpa": 610.0},
    "gauge_wet": {"pressure_kpa": 700.0, "oil_ml": 5.0, "swept_ml": 500.0},
    "leak_down": {"leak_percent": 62.0, "heard_at": "exhaust"},
    "running": {"idle_kpa": 300.0, "snap_kpa": 500.0},
    "borescope": {"words": "Valve burnt."},
}
AGAIN = {
    "gauge_dry": {"pressure_kpa": 640.0},
    "gauge_wet": {"pressure_kpa": 720.0, "oil_ml": 5.0, "swept_ml": 500.0},
    "leak_down": {"leak_percent": 58.0, "heard_at": "exhaust"},
    "running": {"idle_kpa": 310.0, "snap_kpa": 510.0},
    "borescope": {"words": "Valve burnt."},
}


@pytest.fixture
def record(order, cast):
    def one(test, figures, outcome="bad", replaces=None):
        found = NewFinding(3, test, outcome, confirmed=True, **figures)
        return finding_add(order=order, member=cast.mechanic, found=found, replaces=replaces)

    return one


def _rows(order):
    return [(f.cylinder, f.test) for f in current_findings(order)]


@pytest.mark.parametrize("test", FIRST)
def test_entered_again_it_stands_once_and_the_newest_counts(order, record, test):
    first = record(test, FIRST[test])
    newest = record(test, AGAIN[test])
    (shown,) = current_findings(order)
    assert shown == newest
    assert [f.pk for f in shown.repeats] == [first.pk]


@pytest.mark.parametrize("test", FIRST)
def test_entered_again_and_corrected_it_stands_once(order, record, test):
    first = record(test, FIRST[test])
    second = record(test, AGAIN[test])
    record(test, FIRST[test], replaces=first)
    record(test, AGAIN[test], replaces=second)
    assert _rows(order) == [(3, test)]


def test_not_done_hides_no_reading(order, record):
    measured = record("gauge_dry", FIRST["gauge_dry"])
    record("gauge_dry", {"words": "No access."}, outcome="not_done")
    (shown,) = current_findings(order)
    assert shown == measured


def test_two_things_seen_are_two_rows(order, record):
    record("borescope", {"words": "Valve burnt."})
    record("borescope", {"words": "Bore scored."})
    assert len(_rows(order)) == 2


def test_nothing_reads_it_twice(order, record, cast, by, client_for):
    for test, figures in FIRST.items():
        record(test, figures)
        record(test, AGAIN[test])
    unit = order.visit.shop.pressure_unit
    draft = summary_draft(current_findings(order), unit)
    assert len(draft.splitlines()) == len(FIRST)
    assert ".." not in draft
    order.refresh_from_db()
    work_order_complete(
        order=order, member=cast.mechanic, summary=f"{draft}\nHead off next.", left_out="Clear."
    )
    (standing,) = visit_work(by, order.visit).orders
    shown: Any = standing
    assert len(shown.current) == len(FIRST)
    assert standing.summary_beyond == "Head off next."
    page = client_for(by).get(reverse("jobs:visit", args=[order.visit_id])).content.decode()
    work = page[page.index('id="work"') : page.index('id="outcome"')]
    line = finding_words(CylinderFinding.objects.get(leak_percent=58.0), unit)
    assert work.count(line[1:]) == 1
    judgement = judgement_sign(
        visit=order.visit,
        member=by,
        kind="without",
        mechanical="yes",
        cylinders=[3],
        reason="Again.",
    )
    done = [words for words in order_draft(judgement).tests_done if "cylinder 3" in words]
    assert len(done) == len(set(done)) == len(FIRST)
