"""“Repair holds”: refused with an order out, asked back where what was measured is against it."""

import pytest
from django.core.exceptions import ValidationError

from jobs.models import Outcome
from jobs.selectors.outcome import customer_copy_of
from jobs.services.captures import capture_aside
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.outcome import FIELDS, outcome_change, outcome_of
from jobs.services.triage import misfires_set
from tests.wording import says

EVEN = dict.fromkeys((1, 2, 3, 4), 1.0)


@pytest.fixture
def repaired(order, cast):
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.")
    return order.visit


@pytest.fixture
def save(by):
    """Save an outcome; return the fields that were refused."""

    def saved(visit, *, fields=FIELDS, confirmed=False, **given):
        outcome = outcome_of(visit=visit)
        for name, value in ({"verified": "yes", "verified_how": "Drive."} | given).items():
            setattr(outcome, name, value)
        try:
            outcome_change(
                outcome=outcome,
                expected_version=outcome.version,
                member=by,
                fields=fields,
                confirmed=confirmed,
            )
        except ValidationError as refused:
            return set(refused.message_dict)
        return set()

    return saved


def kept(visit):
    return Outcome.objects.filter(visit=visit, verified="yes").exists()


def test_no_repair_holds_with_an_order_out(order, save):
    assert save(order.visit) == {"verified"}
    # no tick helps: the order has to be done
    assert save(order.visit, confirmed=True) == {"verified"}
    assert save(order.visit, verified="no") == set()
    assert not kept(order.visit)


def test_an_uneven_capture_after_the_repair_is_asked_back(repaired, run_of, save, by):
    uneven = run_of(repaired, EVEN | {3: 0.57}, purpose="verification")
    assert save(repaired) == {"confirmed"}
    assert not kept(repaired)
    assert save(repaired, verified="no") == set()
    assert save(repaired, confirmed=True) == set()
    told = " ".join(customer_copy_of(repaired).unknown)
    assert says(told, "outcome.repeated-after-repair-test")
    # what stands is not asked again beside another word
    assert save(repaired, cause="Valve burnt.") == set()
    Outcome.objects.filter(visit=repaired).update(verified="")
    tie = uneven.capture.visit_capture
    capture_aside(tie=tie, member=by, why="The clamp slipped.")
    assert save(repaired) == set()


def test_an_even_capture_after_the_repair_is_proof(repaired, run_of, save):
    run_of(repaired, EVEN | {3: 0.57}, purpose="verification")
    run_of(repaired, EVEN, purpose="verification")
    assert save(repaired) == set()
    assert "unevenly" not in " ".join(customer_copy_of(repaired).unknown)


@pytest.mark.parametrize(
    ("before", "after", "refused"),
    [(355, 300, {"confirmed"}), (355, 355, {"misfires_after"}), (355, 20, set())],
)
def test_misfires_have_to_be_clearly_fewer(repaired, save, before, after, refused):
    counted = {"drive": "15 minutes", "misfires_before": before, "misfires_after": after}
    assert save(repaired, **counted) == refused
    assert kept(repaired) is not bool(refused)
    # the counts first, and only then that it holds
    assert save(repaired, verified="", **counted) == set()
    assert save(repaired, fields=["verified", "verified_how"]) == refused


def test_a_count_ten_times_those_on_the_card_is_asked_back(repaired, save, cast):
    misfires_set(visit=repaired, counts={1: 0, 3: 355}, member=cast.owner)
    drive = {"drive": "15 minutes", "misfires_after": 2}
    assert save(repaired, misfires_before=3550, **drive) == {"confirmed"}
    assert save(repaired, misfires_before=355, **drive) == set()
    assert save(repaired, misfires_before=3550, confirmed=True, **drive) == set()
    assert Outcome.objects.get(visit=repaired).misfires_before == 3550


@pytest.mark.parametrize(
    ("counted", "refused"),
    [
        ({"drive": "15 minutes", "misfires_before": 96, "misfires_after": 0}, set()),
        ({"drive": "15 minutes", "misfires_before": 96}, {"verified_how"}),
        ({"drive": "15 minutes"}, {"verified_how"}),
        ({}, {"verified_how"}),
    ],
)
def test_counts_over_a_stated_drive_say_how_it_was_verified(repaired, save, counted, refused):
    assert save(repaired, verified_how="", **counted) == refused
    assert kept(repaired) is (not refused)
