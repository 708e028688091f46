"""A finding that is bad on a cylinder the verdict does not name is set beside it."""

from dataclasses import replace

import pytest
from django.urls import reverse

from jobs.selectors.found_elsewhere import found_elsewhere
from jobs.selectors.outcome import customer_copy_of
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.work import work_order_accept, work_order_create
from tests.wording import says

YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400", scope="Exhaust valve")
ELSEWHERE = "fault on cylinder 1"


def dry(cylinder, outcome, kpa):
    return NewFinding(cylinder, "gauge_dry", outcome, kpa, confirmed=True)


@pytest.fixture
def find(order, cast):
    def record(*found, on=order):
        return [finding_add(order=on, member=cast.mechanic, found=one) for one in found]

    return record


@pytest.mark.parametrize(
    ("found", "told", "ends"),
    [
        ([dry(3, "bad", 620), dry(1, "good", 1210)], False, ""),
        ([dry(3, "bad", 620), dry(1, "bad", 640)], True, "cylinder 1 as well."),
        ([dry(3, "good", 1190), dry(1, "bad", 640)], True, "cylinder 1 and none on cylinder 3."),
        # bad in one test is not good in another
        (
            [
                dry(3, "good", 1190),
                dry(1, "bad", 640),
                NewFinding(3, "borescope", "bad", words="Burnt valve."),
            ],
            True,
            "cylinder 1 as well.",
        ),
        ([dry(1, "ambiguous", 900)], False, ""),
        # measured once more, it was good
        ([dry(1, "bad", 640), dry(1, "good", 1210)], False, ""),
    ],
)
def test_the_customer_reads_of_it_and_the_shop_too(
    order, find, by, *, client_for, found, told, ends
):
    find(*found)
    copy = customer_copy_of(order.visit)
    assert (ELSEWHERE in copy.result) is told
    assert copy.result.endswith(ends)
    assert bool(copy.found_elsewhere) is told
    for name in ("jobs:visit", "jobs:outcome-edit", "jobs:customer-copy"):
        page = client_for(by).get(reverse(name, args=[order.visit_id])).content.decode()
        assert (
            says(
                page,
                "found_elsewhere.test-engine-bad-verdict",
                outside="cylinder 1",
                names="cylinder 3",
            )
        ) is told, name


def test_a_signed_cylinder_that_tests_found_good_is_told(order, find):
    find(dry(3, "good", 1190))
    copy = customer_copy_of(order.visit)
    assert says(copy.result, "customer_words.test-engine-itself-found", refuted="cylinder 3")
    # bad in one test is not good in another
    find(NewFinding(3, "borescope", "bad", words="Burnt valve."))
    assert "no fault" not in customer_copy_of(order.visit).result


def test_a_later_verdict_that_names_it_settles_it(order, find, sign):
    find(dry(3, "bad", 620), dry(1, "bad", 640))
    sign(order.visit, None, [1, 3], kind="without", reason="Gauge.")
    copy = customer_copy_of(order.visit)
    assert (ELSEWHERE in copy.result, copy.found_elsewhere) == (False, "")


def test_a_fault_beyond_compression_is_held_against_the_findings_too(triaged, sign, by, cast):
    given = {"mechanical": "no", "fault_group": "ignition", "reason": "Coil."}
    signed = sign(triaged, None, [2], kind="without", **given)
    order = work_order_create(judgement=signed, member=by)
    finding_add(
        order=order, member=cast.mechanic, found=NewFinding(1, "plugs", "bad", words="Cracked.")
    )
    assert ELSEWHERE in customer_copy_of(triaged).result
    assert found_elsewhere(signed)


def test_what_a_repair_measures_says_nothing_of_the_diagnosis(order, find, sign, by, cast):
    find(dry(3, "bad", 620), dry(1, "bad", 640))
    work_order_accept(order=order, member=cast.mechanic)
    work_order_complete(order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.")
    visit = order.visit
    signed = sign(visit, None, [3], kind="without", reason="As found.")
    consent_add(visit=visit, member=cast.writer, said=replace(YES))
    repair = work_order_create(judgement=signed, member=by)
    find(dry(3, "good", 1200), on=repair)
    assert says(
        customer_copy_of(visit).result,
        "customer_words.test-engine-itself-found-fault",
        outside="cylinder 1",
    )
