"""After "no compression fault found": the group, its order, the swap test and the proof."""

import re
from dataclasses import replace
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.core.groups import (
    BANK_IN_TEST,
    EVEN_IN_TEST,
    EVEN_LEAVES_OPEN,
    FaultGroup,
    group_request,
    group_tests,
    group_words,
)
from jobs.core.tests_wanted import recorded_as
from jobs.core.wanted_test_texts import SWAP
from jobs.models import CylinderFinding, Judgement
from jobs.selectors.findings import current_findings, unrecorded_tests
from jobs.selectors.misfires import beside_judgement
from jobs.selectors.outcome import customer_copy_of
from jobs.selectors.sheet import lines_by_test
from jobs.services.completion import work_order_complete
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.outcome import FIELDS, outcome_change, outcome_of
from jobs.services.swaps import Swapped, swap_add
from jobs.services.triage import codes_add
from jobs.services.work import work_order_create, work_order_withdraw
from tests.api.conftest import api_for
from tests.wording import says
from traces.core.report.bank_results import BankDifference, BankMean
from traces.models import Run

__all__ = ["api_for"]

EVEN = {1: 1.0, 2: 1.0, 3: 1.0, 4: 1.0}


@pytest.fixture
def browser(client_for, by):
    return client_for(by)


@pytest.fixture
def order(ignition, by):
    """An open order on it."""
    return work_order_create(judgement=ignition, member=by)


def test_an_even_verdict_leads_to_an_order_of_its_group(triaged, run_of, browser):
    run = run_of(triaged, EVEN)
    address = reverse("jobs:decide", args=[triaged.pk])
    assert EVEN_LEAVES_OPEN in browser.get(address).content.decode()
    sent = {
        "kind": "accepted",
        "run": run.pk,
        "form_token": uuid4(),
        "chosen": "",
        "mechanical": "no",
        "fault_group": "ignition",
        "misfiring": ["2"],
    }
    assert browser.post(address, sent).status_code == 302
    judgement = Judgement.objects.get()
    assert (judgement.group, judgement.cylinders) == (FaultGroup.IGNITION, [2])
    page = browser.get(reverse("jobs:work-order-new", args=[triaged.pk]))
    draft = page.context["draft"]
    keys = [t.key for t in draft.tests]
    assert draft.cylinders == (2,)
    assert keys == [t.key for t in group_tests(FaultGroup.IGNITION)]
    assert {"swap", "counts"} <= set(keys)
    assert not {"gauge_dry", "leak_down"} & set(keys)
    assert EVEN_IN_TEST in draft.how_low


def test_an_even_page_without_a_capture_says_nothing_of_even(triaged, run_of, browser):
    run_of(triaged)
    page = browser.get(reverse("jobs:decide", args=[triaged.pk])).content.decode()
    assert EVEN_LEAVES_OPEN not in page


@pytest.mark.parametrize("group", [g for g in FaultGroup if g is not FaultGroup.COMPRESSION])
def test_every_group_has_an_order(triaged, by, group):
    judgement = judgement_sign(
        visit=triaged, member=by, kind="without", mechanical="no", reason="x", fault_group=group
    )
    order = work_order_create(judgement=judgement, member=by)
    assert order.request == group_request(group, [], is_shown_even=False)
    assert [t["key"] for t in order.tests] == [t.key for t in group_tests(group)]


def test_no_fault_found_is_a_group_without_a_cylinder(triaged, by):
    given = {"visit": triaged, "member": by, "kind": "without", "mechanical": "no"}
    given |= {"reason": "It runs.", "fault_group": "none_found"}
    with pytest.raises(ValidationError) as error:
        judgement_sign(**given, cylinders=[2])
    assert set(error.value.message_dict) == {"fault_group"}
    judgement = judgement_sign(**given)
    assert judgement.group is FaultGroup.NONE_FOUND
    order = work_order_create(judgement=judgement, member=by)
    assert [test["key"] for test in order.tests] == ["counts"]
    # the customer reads that nothing was found, not that it is still open
    assert not customer_copy_of(triaged).is_unsettled
    assert group_words(FaultGroup.NONE_FOUND, [])


def test_a_diesel_has_no_spark_to_test():
    assert not {"coil", "plugs"} & {t.key for t in group_tests(FaultGroup.UNSETTLED, "diesel")}
    assert "plugs" in {t.key for t in group_tests(FaultGroup.UNSETTLED)}


@pytest.mark.parametrize(
    ("mechanical", "asked", "stored"),
    [("yes", "", "compression"), ("no", "", "unsettled"), ("unsure", "", "unsettled")],
)
def test_a_group_that_was_not_said(triaged, by, mechanical, asked, stored):
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="without",
        mechanical=mechanical,
        reason="x",
        fault_group=asked,
    )
    assert judgement.fault_group == stored


@pytest.mark.parametrize(("mechanical", "group"), [("yes", "fuel"), ("no", "compression")])
def test_groups_that_contradict_the_answer(triaged, by, mechanical, group):
    with pytest.raises(ValidationError) as error:
        judgement_sign(
            visit=triaged,
            member=by,
            kind="without",
            mechanical=mechanical,
            reason="x",
            fault_group=group,
        )
    assert "fault_group" in error.value.message_dict


def test_a_compression_fault_is_not_accepted_on_an_even_capture(triaged, by, run_of):
    with pytest.raises(ValidationError) as error:
        judgement_sign(
            visit=triaged,
            member=by,
            kind="accepted",
            mechanical="yes",
            run=run_of(triaged, EVEN),
            cylinders=[2],
        )
    assert set(error.value.message_dict) == {"mechanical"}


def test_counts_over_a_drive_are_the_proof(order, by):
    outcome = outcome_of(visit=order.visit)
    outcome.misfires_before, outcome.misfires_after = 143, 2
    with pytest.raises(ValidationError) as error:
        outcome_change(outcome=outcome, expected_version=1, member=by, fields=FIELDS)
    assert "drive" in error.value.message_dict
    outcome.drive = "15 minutes, town and uphill"
    outcome_change(outcome=outcome, expected_version=outcome.version, member=by, fields=FIELDS)
    stored = outcome_of(visit=order.visit)
    assert (stored.misfires_before, stored.misfires_after) == (143, 2)
    stored.verified, stored.verified_how, stored.misfires_after = "yes", "Same road.", 143
    with pytest.raises(ValidationError) as error:
        outcome_change(outcome=stored, expected_version=stored.version, member=by, fields=FIELDS)
    assert "misfires_after" in error.value.message_dict
    stored.misfires_before = None
    with pytest.raises(ValidationError) as error:
        outcome_change(outcome=stored, expected_version=stored.version, member=by, fields=FIELDS)
    assert "misfires_before" in error.value.message_dict


def test_tests_of_a_group_that_were_left_out_ask_for_a_word(order, cast):
    swap_add(order=order, member=cast.mechanic, swapped=Swapped("coil", 2, 3, "yes"))
    assert unrecorded_tests(order) == [
        "Misfire counts",
        "Plugs",
        "Coil",
        "Supply and ground",
    ]
    with pytest.raises(ValidationError) as error:
        work_order_complete(order=order, member=cast.mechanic, summary="Coil.")
    assert "left_out" in error.value.message_dict
    # one finding answers its own test and no other
    for found, left in (
        (NewFinding(2, "coil", "bad", words="No spark."), ["counts", "plugs", "wiring"]),
        (NewFinding(None, "plugs", "good", words="All alike."), ["counts", "wiring"]),
        (NewFinding(None, "counts", "bad", words="2: 214 on 12 km."), ["wiring"]),
        (NewFinding(2, "wiring", "not_done", words="Coil renewed first."), []),
    ):
        finding_add(order=order, member=cast.mechanic, found=found)
        assert unrecorded_tests(order) == [str(CylinderFinding.Test(test).label) for test in left]


def test_tests_of_every_group_have_a_name():
    for group in FaultGroup:
        if group is not FaultGroup.COMPRESSION:
            for test in (*group_tests(group), *group_tests(group, "diesel")):
                known = recorded_as(test.key) in CylinderFinding.Test.values
                assert known or test.key == SWAP.key


def test_a_pump_with_lines_is_asked_for_its_nozzles():
    def injector(injection):
        tests = group_tests(FaultGroup.FUEL, "diesel", injection=injection)
        return next(t.words for t in tests if t.key == "injector")

    assert injector("pump_line") != injector("common_rail") == injector("")


def test_the_sheet_has_a_line_for_each_test(order, cast, browser):
    finding_add(
        order=order, member=cast.mechanic, found=NewFinding(2, "coil", "bad", words="No spark.")
    )
    rows = [
        (row.test, row.cylinder, row.outcome, row.words)
        for row in lines_by_test(order, current_findings(order), "kPa")
    ]
    label = CylinderFinding.Test
    assert rows == [
        (label.COUNTS.label, "", "", ""),
        ("Swap test", "", "", ""),
        (label.PLUGS.label, "", "", ""),
        (label.COIL.label, "2", "Bad", "No spark."),
        (label.WIRING.label, "", "", ""),
    ]
    swap_add(order=order, member=cast.mechanic, swapped=Swapped("coil", 2, 3, "yes"))
    assert "Swap test" not in {row.test for row in lines_by_test(order, [], "kPa")}
    sheet = browser.get(reverse("jobs:work-order-print", args=[order.pk])).content.decode()
    assert "No spark." in sheet


def test_the_tests_asked_for_are_offered_first(order, browser):
    page = browser.get(reverse("jobs:finding-add", args=[order.pk])).content.decode()
    offered = re.findall(r'name="test" value="(\w+)"', page)
    assert set(offered[:4]) == {"counts", "plugs", "coil", "wiring"}
    assert len(offered) == len(CylinderFinding.Test.values)


def test_no_second_capture_is_asked_for_where_the_first_was_even(order, browser):
    text = browser.get(reverse("jobs:outcome-edit", args=[order.visit_id])).content.decode()
    assert 'name="purpose" value="verification"' not in text


def test_the_customer_is_not_told_that_an_even_test_was_not_repeated(order, by):
    work_order_withdraw(order=order, member=by, reason="The coil was found at once.")
    outcome = outcome_of(visit=order.visit)
    outcome.cause, outcome.correction, outcome.verified = "Coil.", "Coil renewed.", "yes"
    outcome.verified_how = "No misfire over the same drive."
    outcome_change(outcome=outcome, expected_version=1, member=by, fields=FIELDS)
    assert len(customer_copy_of(order.visit).unknown) == 1


def test_the_customer_reads_what_the_test_showed(order):
    result = customer_copy_of(order.visit).result
    assert result.startswith(EVEN_IN_TEST)
    assert "ignition" in result
    assert "cylinder 2" in result
    assert "sound" not in result


def test_the_customer_reads_what_a_swap_showed(order, cast, by):
    swapped = Swapped("coil", 2, 4, "yes")
    swap = swap_add(order=order, member=cast.diagnostician, swapped=swapped)
    assert swap.line in customer_copy_of(order.visit).result
    work_order_withdraw(order=order, member=by, reason="Another cylinder.")
    assert swap.line not in customer_copy_of(order.visit).result


def _with_a_weaker_bank(run: Run) -> Run:
    assert run.report is not None
    report = replace(
        run.report,
        banks=(BankMean((1, 4), 1.02, 0.99, 1.05), BankMean((2, 3), 0.93, 0.90, 0.96)),
        bank_difference=BankDifference(9.0, 5.0, 13.0, (2, 3), "uneven"),
    )
    Run.objects.filter(pk=run.pk).update(result=report.to_json())
    run.refresh_from_db()
    return run


@pytest.mark.parametrize(("mechanical", "group"), [("no", "ignition"), ("yes", "compression")])
def test_nobody_reads_of_even_cylinders_where_one_bank_is_weaker(
    triaged, by, run_of, mechanical, group
):
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical=mechanical,
        run=_with_a_weaker_bank(run_of(triaged, EVEN)),
        fault_group=group,
    )
    result = customer_copy_of(triaged).result
    assert BANK_IN_TEST in result
    assert EVEN_IN_TEST not in result
    order = work_order_create(judgement=judgement, member=by)
    assert EVEN_IN_TEST not in order.confidence
    assert says(order.confidence, "bank_words.cam-timing-one-two")


def test_an_order_beyond_compression_asks_for_no_measuring(triaged, by, browser):
    judgement = judgement_sign(
        visit=triaged, member=by, kind="without", mechanical="no", reason="x", fault_group="fuel"
    )
    order = work_order_create(judgement=judgement, member=by)
    for name in ("jobs:work-order", "jobs:work-order-print"):
        page = browser.get(reverse(name, args=[order.pk])).content.decode()
        assert "measure every cylinder" not in page


@pytest.mark.parametrize("group", ["ignition", "unsettled"])
def test_a_weaker_bank_is_barred_over_before_anybody_drives(triaged, by, run_of, group):
    """An interference engine with a cam late bends its valves: common practice."""
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical="no",
        run=_with_a_weaker_bank(run_of(triaged, EVEN)),
        fault_group=group,
    )
    order = work_order_create(judgement=judgement, member=by)
    keys = [t["key"] for t in order.tests]
    assert keys[:3] == ["timing", "bind", "counts"]
    assert says(order.request, "groups.bar-over-before-cranking")


def test_a_high_cylinder_is_looked_into_before_anybody_drives(triaged, by, run_of):
    judgement = judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical="no",
        run=run_of(triaged, EVEN | {2: 1.4}),
        fault_group="ignition",
    )
    order = work_order_create(judgement=judgement, member=by)
    assert [t["key"] for t in order.tests][:2] == ["stop", "borescope"]
    assert "Look for liquid" in order.request


@pytest.mark.parametrize(
    ("codes", "first"),
    [
        # SAE J2012: P0087 rail pressure too low, P0171 to P0175 mixture, P0420 and P0430 catalyst
        ((), "cut_out"),
        (("P0302",), "cut_out"),
        (("P0087",), "fuel_pressure"),
        (("P0174-00",), "trims"),
        (("P0430",), "exhaust"),
        (("P0420", "P0171", "P0087"), "fuel_pressure"),
    ],
)
def test_codes_tell_what_comes_first_where_the_group_is_not_settled(codes, first):
    keys = [t.key for t in group_tests(FaultGroup.UNSETTLED, codes=codes)]
    assert keys[:2] == ["counts", first]
    assert len(set(keys)) == len(keys)
    assert "trims" not in {t.key for t in group_tests(FaultGroup.UNSETTLED, "diesel", codes)}


def test_back_pressure_has_its_published_limits_on_a_petrol_engine_only():
    # AERA Technical Committee, bulletin on exhaust back pressure: 1.25 and 3 psi
    petrol, diesel = (group_tests(FaultGroup.EXHAUST, fuel)[-1] for fuel in ("petrol", "diesel"))
    assert {"{idle}", "{fast}"} <= set(petrol.words.split())
    assert "AERA" in petrol.source
    assert "{" not in diesel.words


def test_its_card_asks_for_no_capture_after_the_repair(ignition, signed_beside, browser):
    def offered(visit):
        page = browser.get(reverse("jobs:visit", args=[visit.pk])).content.decode()
        return 'value="verification"' in page

    assert not offered(ignition.visit)
    assert offered(signed_beside.visit)


def test_a_code_beside_an_even_capture_contradicts_the_capture_not_the_verdict(
    ignition, browser, by
):
    codes_add(visit=ignition.visit, text="P0302 stored", member=by)
    page = browser.get(reverse("jobs:decide", args=[ignition.visit_id]))
    (sentence,) = page.context["beside"]
    assert sentence.endswith("the capture names no cylinder.")
    assert beside_judgement(ignition) == ()
