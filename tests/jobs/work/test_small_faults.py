"""Small faults seen on a walk through the shop, each with the value that was wrong."""

import re
from dataclasses import replace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.core.first_puff import SOURCE as PUFF_SOURCE
from jobs.core.groups import EVEN_IN_TEST
from jobs.core.leakdown import ELSEWHERE
from jobs.core.next_step import Step
from jobs.core.next_step_words import WORDS
from jobs.models import Outcome, Visit, VisitCapture, WorkOrder
from jobs.selectors.board import board_of
from jobs.selectors.finding_hints import hints
from jobs.selectors.findings import current_findings
from jobs.selectors.in_short import in_short
from jobs.selectors.job_card import visit_card
from jobs.selectors.sheet import sheet_rows
from jobs.selectors.work import visit_work
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.judgements import judgement_sign
from jobs.services.triage import triage_change, triage_of
from jobs.services.work import work_order_accept, work_order_withdraw
from jobs.templatetags.work_words import sentences
from tests.traces.conftest import csv_bytes
from tests.wording import wording
from traces.models import Reading, Run, Work


def test_work_orders_for_you_are_yours_and_free_ones_a_mechanics(order, cast):
    assert board_of(cast.mechanic).work_orders == (order,)
    assert board_of(cast.diagnostician).work_orders == ()
    order.assigned_to = cast.diagnostician
    order.save()
    assert board_of(cast.mechanic).work_orders == ()
    assert board_of(cast.diagnostician).work_orders == (order,)


def test_the_printed_sheet_has_a_line_for_every_cylinder(order):
    assert order.firing_order
    cylinders = sorted(order.firing_order.split("-"), key=int)
    names = [row.name for row in sheet_rows(order, [], "kPa")]
    assert names == cylinders
    order.firing_order, order.cylinders = "", [3]
    assert [row.name for row in sheet_rows(order, [], "kPa")] == ["3", "", "", "", "", ""]


def test_a_customers_sheet_says_not_settled_only_where_the_test_says_nothing(
    triaged, run_of, client_for, by
):
    judgement_sign(
        visit=triaged,
        member=by,
        kind="accepted",
        mechanical="no",
        run=run_of(triaged, dict.fromkeys((1, 2, 3, 4), 1.0)),
        cylinders=[2],
        fault_group="ignition",
    )
    page = client_for(by).get(reverse("jobs:customer-copy", args=[triaged.pk])).content.decode()
    assert EVEN_IN_TEST in page
    assert re.search(r"ignition, on\s+cylinder 2", page)
    assert "Not settled yet." not in page


@pytest.mark.parametrize(
    ("text", "most", "cut"),
    [
        ("Low. High. Even.", 16, "Low. High. Even."),
        ("Low. High. Even.", 15, "Low. High."),
        ("Low; high and even", 12, "Low"),
        ("At 12.4 V or more", 9, "At 12.4…"),
        ("", 5, ""),
    ],
)
def test_whole_sentences_are_printed(text, most, cut):
    assert sentences(text, most) == cut


def test_several_uploads_lead_to_the_first(triaged, client_for, by):
    files = [SimpleUploadedFile(f"crank-{seed}.csv", csv_bytes(seed=seed)) for seed in (51, 52, 53)]
    address = reverse("jobs:capture-upload", args=[triaged.pk])
    answer = client_for(by).post(address, {"recordings": files, "purpose": "diagnosis"})
    first = triaged.visit_captures.order_by("pk")[0]
    assert first.capture.original_name == "crank-51.csv"
    following = reverse("jobs:capture", args=[first.capture_id])
    assert answer.headers["Location"] == f"{following}?then=set-up"


@pytest.mark.parametrize(
    ("purpose", "offered"),
    [(VisitCapture.Purpose.DIAGNOSIS, "12.45"), (VisitCapture.Purpose.VERIFICATION, None)],
)
def test_the_battery_of_the_first_look_is_not_asked_again(
    *, triaged, run_of, client_for, by, purpose, offered
):
    triage = triage_of(visit=triaged)
    triage.battery_v = 12.45
    triage_change(triage=triage, expected_version=triage.version, member=by)
    run = run_of(triaged, purpose=purpose)
    browser = client_for(by)
    page = browser.get(reverse("jobs:capture", args=[run.capture_id]))
    address = page.context["setup_url"]
    found = re.search(r"battery_v=([\d.]+)", address)
    assert (found[1] if found else None) == offered
    form = browser.get(address).context["form"]
    value = form["battery_v"].value()
    assert (str(value) if value else None) == offered


@pytest.mark.parametrize("asked", ["nan", "-1", "1e9", "x", ""])
def test_a_battery_that_is_none_is_not_offered(triaged, run_of, client_for, by, asked):
    run = run_of(triaged)
    address = reverse("traces:setup", args=[run.capture_id])
    form = client_for(by).get(address, {"battery_v": asked}).context["form"]
    assert not form["battery_v"].value()


def test_the_customer_reads_what_was_tried(order, client_for, cast):
    Outcome.objects.create(visit=order.visit, verified_how="Road test, twenty minutes uphill.")
    address = reverse("jobs:customer-copy", args=[order.visit_id])
    page = client_for(cast.writer).get(address).content.decode()
    assert "Road test, twenty minutes uphill." in page


def _headings(browser):
    groups = browser.get(reverse("jobs:work-orders")).context["groups"]
    return [(heading, [order.pk for order in orders]) for heading, orders in groups]


def test_the_list_parts_yours_from_others(order, cast, client_for, take_in):
    """A service writer's are the orders of jobs they opened."""
    assert _headings(client_for(cast.writer)) == [(wording("work.jobs-you-opened"), [order.pk])]
    assert _headings(client_for(cast.both_here)) == [("Others", [order.pk])]
    assert _headings(client_for(cast.mechanic)) == [("Unassigned", [order.pk])]
    order.assigned_to = cast.mechanic
    order.save()
    assert _headings(client_for(cast.mechanic)) == [
        (wording("work.you-not-accepted-yet"), [order.pk])
    ]
    assert _headings(client_for(cast.diagnostician)) == [("Others", [order.pk])]
    work_order_accept(order=order, member=cast.diagnostician)
    assert _headings(client_for(cast.diagnostician)) == [("Yours", [order.pk])]
    assert _headings(client_for(cast.mechanic)) == [("Others", [order.pk])]


def test_the_board_says_what_waits_for_the_writer(order, cast):
    def waiting(member):
        return [(row.visit.pk, row.words) for row in board_of(member).waiting]

    assert waiting(cast.writer) == []
    WorkOrder.objects.filter(pk=order.pk).update(state=WorkOrder.State.DONE)
    job = order.visit_id
    assert waiting(cast.writer) == [(job, WORDS[Step.CALL].label)]
    assert waiting(cast.both_here) == []
    assert waiting(cast.diagnostician) == []
    no = SaidOnRepair(agreed=False, said_by="Casey", how="phone")
    consent_add(visit=order.visit, member=cast.writer, said=no)
    assert waiting(cast.writer) == []
    assert waiting(cast.diagnostician) == [(job, WORDS[Step.WRITE_UP].label)]
    consent_add(visit=order.visit, member=cast.writer, said=replace(no, agreed=True))
    assert waiting(cast.writer) == []
    assert waiting(cast.diagnostician) == [(job, WORDS[Step.ORDER_REPAIR].label)]
    Outcome.objects.update_or_create(
        visit=order.visit, defaults={"cause": "Valve.", "correction": "Valve renewed."}
    )
    Visit.objects.filter(pk=job).update(stage="hand_back")
    assert waiting(cast.writer) == [(job, WORDS[Step.DELIVER].label)]


def test_a_first_puff_does_not_name_rings_beside_air_at_the_exhaust(order, cast):
    def record(*found, **figures):
        cylinder, test, outcome = found
        new = NewFinding(cylinder, test, outcome, confirmed=True, **figures)
        finding_add(order=order, member=cast.mechanic, found=new)

    def puff():
        said = hints(order, current_findings(order), "kPa")
        (hint,) = [h.words for h in said if h.source == PUFF_SOURCE]
        return hint

    record(1, "gauge_dry", "good", pressure_kpa=1190, first_puff_kpa=600)
    record(3, "gauge_dry", "bad", pressure_kpa=560, first_puff_kpa=200)
    alone = puff()
    assert not alone.endswith(ELSEWHERE)
    record(3, "leak_down", "bad", leak_percent=62, heard_at="exhaust")
    assert puff() == f"{alone} {ELSEWHERE}"
    record(3, "leak_down", "bad", leak_percent=60, heard_at="crankcase")
    assert puff() == alone


def test_a_verdict_that_has_its_order_offers_no_second_form(order, cast, client_for):
    browser = client_for(cast.diagnostician)
    address = reverse("jobs:work-order-new", args=[order.visit_id])
    there = browser.get(address)
    assert there.url == reverse("jobs:work-order", args=[order.pk])
    work_order_withdraw(order=order, member=cast.diagnostician, reason="Wrong car.")
    assert browser.get(address).url == reverse("jobs:decide", args=[order.visit_id])


def test_why_an_order_was_withdrawn_is_no_instruction(order, by, client_for):
    work_order_withdraw(order=order, member=by, reason="The customer sold the car.")
    page = client_for(by).get(reverse("jobs:work-order", args=[order.pk])).content.decode()
    (label,) = re.findall(r"<strong>([^<]*):</strong> The customer sold the car\.", page)
    assert label == "Reason"


@pytest.mark.parametrize("name", ["jobs:work-order-print", "jobs:customer-copy"])
def test_papers_write_the_odometer_as_the_card_does(order, cast, client_for, name):
    Visit.objects.filter(pk=order.visit_id).update(odometer=184210)
    pk = order.pk if name == "jobs:work-order-print" else order.visit_id
    pages = [reverse(name, args=[pk]), reverse("jobs:visit", args=[order.visit_id])]
    for address in pages:
        page = client_for(cast.writer).get(address).content.decode()
        assert "184,210 km" in page, address
        assert "184210" not in page, address


def test_a_file_that_cannot_be_read_is_not_to_be_set_up(triaged, run_of, by):
    run_of(triaged)
    other = run_of(triaged)
    capture = other.capture
    Run.objects.filter(pk=other.pk).delete()

    def open_questions():
        return in_short(triaged, visit_card(by, triaged), visit_work(by, triaged)).questions

    assert len(open_questions()) == 1
    Reading.objects.filter(capture=capture).update(state=Work.State.FAILED)
    assert open_questions() == ()
