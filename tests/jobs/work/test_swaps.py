"""Swap tests: recorded, asked back where counts speak against them, and told wherever they are."""

from dataclasses import replace
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.urls import reverse

from jobs.core.after_repair import STOP_REPAIR, BadPart, parts_found_bad, repair_request
from jobs.core.groups import (
    swap_reading,
)
from jobs.models import Judgement, SwapTest
from jobs.selectors.order_draft import order_draft
from jobs.selectors.work import visit_work
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.swaps import Swapped, swap_add
from jobs.services.work import work_order_accept, work_order_create
from tests.api.conftest import api_for
from tests.wording import says

__all__ = ["api_for"]

EVEN = {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def order(ignition, by):
    """An open order on it."""
    return work_order_create(judgement=ignition, member=by)


def test_swap_tests_that_contradict_are_told_wherever_they_are_listed(order, client_for, cast, by):
    for followed in ("yes", "no"):
        swap_add(order=order, member=cast.mechanic, swapped=Swapped("coil", 2, 3, followed))
    browser = client_for(cast.mechanic)
    page = browser.get(reverse("jobs:work-order", args=[order.pk]))
    (told,) = page.context["swaps_contradict"]
    draft = page.context["complete_form"]["summary"].value()
    assert told in draft.splitlines()
    sheet = browser.get(reverse("jobs:work-order-print", args=[order.pk]))
    assert told in sheet.content.decode()
    work_order_complete(order=order, member=cast.mechanic, summary=draft, left_out="No time.")
    (listed,) = visit_work(by, order.visit).orders
    # beside the tests themselves, which are listed, it is what the summary adds
    assert listed.summary_beyond == told


def test_a_swap_from_a_cylinder_that_did_not_misfire_is_asked_back(order, cast, api_for):
    here = reverse("api:swaps", args=[order.pk])
    sent = {
        "part": "coil",
        "from_cylinder": 2,
        "to_cylinder": 3,
        "followed": "yes",
        "counts_before": "2: 3, 3: 340",
    }
    refused = api_for(cast.mechanic).post(here, sent)
    assert (refused.status_code, set(refused.json())) == (400, {"confirmed"})
    assert api_for(cast.mechanic).post(here, sent | {"confirmed": True}).status_code == 201


@pytest.mark.parametrize(
    ("part", "test"), [("injector", "injector"), ("plug", "plugs"), ("coil", "coil")]
)
@pytest.mark.parametrize("answers", [("yes", "good"), ("no", "bad")])
def test_a_swap_and_a_test_of_the_part_that_say_the_opposite_are_asked_back(
    order, cast, part, test, answers
):
    """Whichever is recorded second."""
    followed, outcome = answers
    found = NewFinding(2, test, outcome, words="Looked at.")
    swapped = Swapped(part, 2, 3, followed)
    finding_add(order=order, member=cast.mechanic, found=found)
    with pytest.raises(ValidationError) as asked:
        swap_add(order=order, member=cast.mechanic, swapped=swapped)
    assert set(asked.value.message_dict) == {"confirmed"}
    swap_add(order=order, member=cast.mechanic, swapped=replace(swapped, confirmed=True))
    again = replace(found, words="Looked at again.")
    with pytest.raises(ValidationError) as asked:
        finding_add(order=order, member=cast.mechanic, found=again)
    assert set(asked.value.message_dict) == {"confirmed"}
    finding_add(order=order, member=cast.mechanic, found=replace(again, confirmed=True))


def test_of_plugs_that_all_look_good_none_is_the_one_that_a_misfire_followed(order, cast):
    finding_add(
        order=order, member=cast.mechanic, found=NewFinding(None, "plugs", "good", words="All.")
    )
    with pytest.raises(ValidationError) as asked:
        swap_add(order=order, member=cast.mechanic, swapped=Swapped("plug", 2, 3, "yes"))
    assert set(asked.value.message_dict) == {"confirmed"}


@pytest.mark.parametrize(
    ("cylinder", "outcome", "followed"),
    [
        (2, "bad", "yes"),
        (2, "good", "no"),
        (3, "good", "yes"),
        (None, "bad", "no"),
        (2, "good", "changed"),
    ],
)
def test_a_swap_that_fits_what_the_part_showed_is_taken_at_once(
    order, cast, cylinder, outcome, followed
):
    finding_add(
        order=order,
        member=cast.mechanic,
        found=NewFinding(cylinder, "injector", outcome, words="Flow test."),
    )
    swap_add(order=order, member=cast.mechanic, swapped=Swapped("injector", 2, 3, followed))
    assert SwapTest.objects.get().followed == followed


def test_a_swap_is_recorded_and_completes_the_order(order, client_for, cast):
    address = reverse("jobs:swap-add", args=[order.pk])
    browser = client_for(cast.mechanic)
    assert browser.get(address).context["form"]["from_cylinder"].value() == 2
    sent = {
        "form_token": str(uuid4()),
        "part": "coil",
        "from_cylinder": "2",
        "to_cylinder": "3",
        "followed": "yes",
        "counts_before": "1: 0, 2: 143, 3: 1",
        "counts_after": "1: 0, 2: 2, 3: 151",
        "words": "",
    }
    for _ in range(2):
        assert browser.post(address, sent).status_code == 302
    swap = SwapTest.objects.get()
    assert (swap.part, swap.from_cylinder, swap.to_cylinder) == ("coil", 2, 3)
    assert (swap.counts_before["2"], swap.counts_after["3"]) == (143, 151)
    assert swap.reading == swap_reading("coil", "yes")
    order.refresh_from_db()
    assert order.accepted_by == cast.mechanic
    for name in ("jobs:work-order", "jobs:work-order-print"):
        assert swap.reading in browser.get(reverse(name, args=[order.pk])).content.decode()
    done = work_order_complete(order=order, member=cast.mechanic, summary="Coil.", left_out="-")
    assert done.state == "done"
    with pytest.raises(ValidationError):
        swap_add(order=order, member=cast.mechanic, swapped=Swapped("coil", 2, 3, "yes"))


@pytest.mark.parametrize(
    ("swapped", "field"),
    [
        (Swapped("coil", 2, 2, "yes"), "to_cylinder"),
        (Swapped("coil", 2, 9, "yes"), "to_cylinder"),
        (Swapped("coil", 2, 3, "yes", {9: 1}), "counts_before"),
        (Swapped("coil", 2, 3, "yes", {}, {2: 140, 3: 1}), "followed"),
        (Swapped("coil", 2, 3, "no", {}, {2: 1, 3: 140}), "followed"),
        (Swapped("lamp", 2, 3, "no"), "part"),
    ],
)
def test_a_swap_that_cannot_be(order, cast, swapped, field):
    with pytest.raises(ValidationError) as error:
        swap_add(order=order, member=cast.mechanic, swapped=swapped)
    assert field in error.value.message_dict
    assert not SwapTest.objects.exists()


def test_swaps_and_verdicts_stay_as_they_are(order, cast):
    swap_add(order=order, member=cast.mechanic, swapped=Swapped("plug", 2, 3, "no"))
    for rows, change in (
        (SwapTest.objects, {"followed": "yes"}),
        (Judgement.objects, {"fault_group": "fuel"}),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)


def test_a_swap_is_in_the_summary_on_the_card_and_where_the_outcome_is_written(
    order, cast, client_for
):
    swap = swap_add(order=order, member=cast.mechanic, swapped=Swapped("coil", 2, 3, "yes"))
    page = client_for(cast.mechanic).get(reverse("jobs:work-order", args=[order.pk]))
    draft = page.context["complete_form"]["summary"].value()
    assert draft == swap.line
    work_order_complete(order=order, member=cast.mechanic, summary=draft, left_out="Clear.")
    writer = client_for(cast.writer)
    for name in ("visit", "outcome-edit"):
        told = writer.get(reverse(f"jobs:{name}", args=[order.visit_id])).content.decode()
        assert says(
            told, "swap.moved-from-cylinder-cylinder", part="Coil", from_cylinder=2, to_cylinder=3
        ), name
    (standing,) = visit_work(cast.writer, order.visit).orders
    assert standing.summary_beyond == ""


YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="200")


def draft_after(triaged, by, cast, *swaps, found=(), kind="ignition"):
    """Return the draft of the repair's order once swaps of an unnamed cylinder are recorded."""
    signed = judgement_sign(
        visit=triaged,
        member=by,
        kind="without",
        mechanical="no",
        fault_group=kind,
        cylinders=[],
        reason="Misfires, compression good.",
    )
    order = work_order_create(judgement=signed, member=by)
    work_order_accept(order=order, member=cast.mechanic)
    for swapped in swaps:
        swap_add(order=order, member=cast.mechanic, swapped=swapped)
    for finding in found:
        finding_add(order=order, member=cast.mechanic, found=finding)
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Coil.", left_out="Clear.")
    consent_add(visit=triaged, member=cast.writer, said=YES)
    return order_draft(signed)


def test_the_repair_names_part_and_cylinder_that_the_swap_found(triaged, by, cast):
    draft = draft_after(triaged, by, cast, Swapped("coil", 2, 3, "yes"))
    assert draft.is_repair
    assert draft.cylinders == (2,)
    coil = BadPart("Coil", 2)
    assert draft.request == repair_request((), "", [coil])
    assert draft.which == parts_found_bad([coil])
    assert draft.stop_and_call == STOP_REPAIR
    assert draft.is_beyond


@pytest.mark.parametrize(
    "swaps",
    [
        [Swapped("coil", 2, 3, "no")],
        [Swapped("coil", 2, 3, "changed")],
        [Swapped("coil", 2, 3, "no"), Swapped("coil", 2, 4, "yes", confirmed=True)],
    ],
)
def test_a_part_that_no_swap_or_two_opposite_ones_found_is_not_named(triaged, by, cast, swaps):
    draft = draft_after(triaged, by, cast, *swaps)
    assert (draft.cylinders, draft.request) == ((), repair_request((), ""))
