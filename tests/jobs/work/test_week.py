"""The week: who waits for whom, jobs and hours, verdicts against findings, comebacks."""

import csv
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.core.next_step import next_step
from jobs.core.stages import Stage
from jobs.core.waiting import Party, waits_for
from jobs.models import Complaint, Outcome, Visit, WorkOrder
from jobs.selectors.job_card import visit_card
from jobs.selectors.next_step import step_facts
from jobs.selectors.waiting import loads, waiting_jobs
from jobs.selectors.week import week_of
from jobs.selectors.work import visit_work
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.intake import visit_open
from jobs.services.notes import note_add
from jobs.services.questions import question_ask
from jobs.services.triage import codes_add
from jobs.services.used import WasUsed, used_add, used_take_back
from jobs.services.work import OrderWords, work_order_accept, work_order_create
from shopdiag.people.core.roles import Role

YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400", scope="Valve")


@pytest.fixture
def finish(cast):
    """Record compression tests on an order, by cylinder, and complete it."""

    def done(order, **by_outcome):
        work_order_accept(order=order, member=cast.mechanic)
        for outcome, cylinders in (by_outcome or {"bad": [3]}).items():
            for cylinder in cylinders:
                kpa = 620 if outcome == "bad" else 1_200
                found = NewFinding(cylinder, "gauge_dry", outcome, kpa, confirmed=True)
                finding_add(order=order, member=cast.mechanic, found=found)
        order.refresh_from_db()
        return work_order_complete(
            order=order, member=cast.mechanic, summary="Valve.", left_out="Clear."
        )

    return done


@pytest.fixture
def another(cast, take_in, four, run_of, sign):
    """Make a work order of another job."""

    def make(**words):
        visit = take_in(cast.writer, engine=four)
        judgement = sign(visit, run_of(visit))
        return work_order_create(
            judgement=judgement, member=cast.diagnostician, words=OrderWords(**words)
        )

    return make


@pytest.fixture
def waits(cast):
    """Return for whom a job waits and who has it, once its own page agrees."""

    def of(visit):
        (job,) = (j for j in waiting_jobs(cast.owner) if j.visit.pk == visit.pk)
        seen = Visit.objects.get(pk=visit.pk)
        card, work = visit_card(cast.owner, seen), visit_work(cast.owner, seen)
        facts = step_facts(cast.owner, seen, card, work)
        assert waits_for(facts) is job.party, next_step(facts, Role.OWNER)
        return job.party, job.holder

    return of


def test_a_job_waits_for_whoever_has_the_next_step(triaged, waits, cast, run_of, sign):
    nobody, signer = "", cast.diagnostician
    assert waits(triaged) == (Party.DIAGNOSTICIAN, nobody)
    judgement = sign(triaged, run_of(triaged))
    assert waits(triaged) == (Party.DIAGNOSTICIAN, signer.name)
    order = work_order_create(judgement=judgement, member=signer)
    assert waits(triaged) == (Party.MECHANIC, nobody)
    work_order_accept(order=order, member=cast.mechanic)
    assert waits(triaged) == (Party.MECHANIC, cast.mechanic.name)


def test_a_question_waits_for_whoever_ordered(order, waits, cast, by):
    work_order_accept(order=order, member=cast.mechanic)
    question_ask(order=order, member=cast.mechanic, text="Which bank?", is_stop=True)
    assert waits(order.visit) == (Party.DIAGNOSTICIAN, by.name)
    (job,) = waiting_jobs(cast.owner)
    assert job.is_stopped


def test_another_verdict_takes_an_order_back(order, waits, run_of, sign, by):
    sign(order.visit, run_of(order.visit), cylinders=[2], kind="overruled", reason="Label.")
    assert waits(order.visit) == (Party.DIAGNOSTICIAN, by.name)


def test_the_customer_is_asked_and_answers(order, waits, finish, cast, by):
    finish(order)
    assert waits(order.visit) == (Party.CUSTOMER, cast.writer.name)
    consent_add(visit=order.visit, member=cast.writer, said=YES)
    assert waits(order.visit) == (Party.DIAGNOSTICIAN, by.name)
    repair = work_order_create(judgement=order.judgement, member=by)
    assert waits(order.visit) == (Party.MECHANIC, "")
    finish(repair, good=[3])
    assert waits(order.visit) == (Party.DIAGNOSTICIAN, by.name)


def test_a_diagnosis_after_the_yes_asks_the_customer_again(order, waits, finish, cast, sign):
    finish(order)
    consent_add(visit=order.visit, member=cast.writer, said=YES)
    sign(order.visit, None, [2], kind="without", reason="As found.")
    assert waits(order.visit)[0] is Party.CUSTOMER


def test_who_refuses_waits_for_papers_then_for_delivery(order, waits, finish, cast):
    finish(order)
    said = SaidOnRepair(agreed=False, said_by="Casey", how="phone", amount="", scope="")
    consent_add(visit=order.visit, member=cast.writer, said=said)
    assert waits(order.visit)[0] is Party.DIAGNOSTICIAN
    Outcome.objects.create(visit=order.visit, cause="Valve.", correction="None wanted.")
    assert waits(order.visit)[0] is Party.WRITER
    Visit.objects.filter(pk=order.visit_id).update(stage=Stage.HAND_BACK)
    assert waits(order.visit) == (Party.CUSTOMER, cast.writer.name)


def test_the_longest_waiting_comes_first_and_a_note_is_no_step(visit, take_in, cast):
    later = take_in(cast.writer)
    note_add(visit=visit, member=cast.writer, text="Called, no answer.")
    assert [job.visit.pk for job in waiting_jobs(cast.owner)] == [visit.pk, later.pk]
    codes_add(visit=visit, text="P0301 stored", member=cast.diagnostician)
    assert [job.visit.pk for job in waiting_jobs(cast.owner)] == [later.pk, visit.pk]


def test_who_has_what(order, cast):
    assert loads(waiting_jobs(cast.owner)) == ()
    work_order_accept(order=order, member=cast.mechanic)
    (load,) = loads(waiting_jobs(cast.owner))
    assert (load.name, [j.visit.pk for j in load.jobs]) == (cast.mechanic.name, [order.visit_id])


def fared(member):
    """Return how verdicts that name cylinders fared."""
    named = week_of(member).named
    return named.confirmed, named.not_confirmed, named.not_checked


def test_a_verdict_is_held_against_findings(order, finish, cast):
    assert fared(cast.owner) == (0, 0, 1)
    finish(order, bad=[3], good=[1, 2, 4])
    assert fared(cast.owner) == (1, 0, 0)


def test_a_verdict_signed_after_the_findings_does_not_confirm_itself(order, finish, cast, sign):
    finish(order, bad=[2], good=[3])
    sign(order.visit, None, [2], kind="without", reason="As found.")
    assert fared(cast.owner) == (0, 1, 0)


def test_what_the_repair_left_good_refutes_nothing(order, finish, cast, by):
    finish(order, bad=[3])
    consent_add(visit=order.visit, member=cast.writer, said=YES)
    finish(work_order_create(judgement=order.judgement, member=by), good=[1, 2, 3, 4])
    assert fared(cast.owner) == (1, 0, 0)


def test_one_of_two_sets_left_open_fits(triaged, run_of, sign, finish, by):
    run = run_of(triaged, candidates=[[3], [2]])
    judgement = sign(triaged, run, cylinders=[2, 3])
    finish(work_order_create(judgement=judgement, member=by), bad=[2], good=[3])
    assert fared(by) == (1, 0, 0)


def test_no_fault_found_is_a_row_of_its_own(ignition, by, finish, cast):
    finish(work_order_create(judgement=ignition, member=by), good=[2])
    week = week_of(cast.owner)
    assert (week.no_fault.confirmed, week.no_fault.total, week.named.total) == (1, 1, 0)


def test_what_settles_nothing_is_left_out(visit, sign, cast):
    sign(visit, None, [], kind="without", mechanical="unsure", reason="Not clear yet.")
    week = week_of(cast.owner)
    assert (week.no_fault.total, week.named.total) == (0, 0)


def test_jobs_and_hours(order, finish, cast, another):
    finish(order)
    timed = another(scope_minutes=90)
    finish(timed)
    Visit.objects.filter(pk=timed.visit_id).update(stage=Stage.CLOSED, closed_at=timezone.now())
    (row,) = week_of(cast.owner).rows
    assert (row.taken_in, row.delivered, row.orders_done) == (2, 1, 2)
    assert (row.hours, row.orders_without_time) == (1.5, 1)


def test_hours_used_stand_against_those_of_the_orders(order, finish, cast, another):
    """Those of orders with a time; what is booked is told whatever it was booked on."""
    timed = another(scope_minutes=90)

    def book(minutes, on, visit=None):
        used = WasUsed(minutes=minutes, amount=Decimal(0), what="")
        return used_add(visit=visit or on.visit, member=cast.owner, used=used, order=on)

    book(60, timed)
    used_take_back(line=book(600, timed), member=cast.owner)
    book(45, timed)
    book(30, order)  # carries no time
    book(20, None, timed.visit)
    WorkOrder.objects.filter(pk=order.pk).update(scope_minutes=None)
    finish(WorkOrder.objects.get(pk=order.pk))
    finish(timed)
    (row,) = week_of(cast.owner).rows
    assert (row.minutes, row.minutes_used, row.minutes_booked) == (90, 105, 155)
    assert row.is_passed
    assert week_of(cast.outsider).rows[0].minutes_booked == 0


@pytest.fixture
def back(visit, cast):
    """A visit of a vehicle that was delivered ten days before."""
    codes_add(visit=visit, text="P0304 stored\nP0300 stored", member=cast.diagnostician)
    before = timezone.now() - timedelta(days=10, hours=1)
    Visit.objects.filter(pk=visit.pk).update(
        stage=Stage.CLOSED, closed_at=before, opened_at=before - timedelta(days=1)
    )
    later = visit_open(
        member=cast.writer,
        customer=visit.vehicle.customer,
        vehicle=visit.vehicle,
        complaint=Complaint(words="Shakes again."),
        odometer=None,
        confirmed=True,
    )
    codes_add(visit=later, text="P0304 stored", member=cast.diagnostician)
    return later


def test_a_comeback_is_linked_to_the_earlier_job(back, visit, cast, client_for):
    (row,) = week_of(cast.owner).comebacks
    assert (row.visit.pk, row.earlier.pk, row.pair.days) == (back.pk, visit.pk, 10)
    assert row.pair.codes == ("P0304",)
    page = client_for(cast.writer).get(reverse("jobs:week")).content.decode()
    assert reverse("jobs:visit", args=[visit.pk]) in page


@pytest.mark.usefixtures("back")
def test_another_shop_is_not_counted(another, finish, cast, their_visit, client_for):
    order = another()
    finish(order)
    week = week_of(cast.other_owner)
    assert [job.visit.pk for job in week.waiting] == [their_visit.pk]
    assert (week.named.total, len(week.comebacks)) == (0, 0)
    assert (week.rows[0].taken_in, week.rows[0].orders_done) == (1, 0)
    for name in ("week", "waiting-csv", "weeks-csv"):
        page = client_for(cast.other_owner).get(reverse(f"jobs:{name}")).content.decode()
        assert order.visit.vehicle.plate not in page
    assert their_visit.pk not in {job.visit.pk for job in waiting_jobs(cast.owner)}


@pytest.mark.parametrize(
    ("role", "offered"),
    [("owner", True), ("writer", True), ("diagnostician", False), ("mechanic", False)],
)
def test_the_menu_offers_it_to_owner_and_writer(cast, client_for, role, offered):
    page = client_for(getattr(cast, role)).get(reverse("jobs:board")).content.decode()
    assert (f'href="{reverse("jobs:week")}"' in page) is offered


def _cells(response):
    return list(csv.reader(StringIO(response.content.decode("utf-8-sig"), newline="")))


def test_open_jobs_as_a_file(take_in, cast, client_for):
    visit = take_in(cast.writer, name="=HYPERLINK(1)", plate="@1", make="+Orchard")
    response = client_for(cast.writer).get(reverse("jobs:waiting-csv"))
    assert response["Content-Type"].startswith("text/csv")
    assert response["Content-Disposition"].startswith("attachment")
    heading, row = _cells(response)
    assert len(heading) == len(row)
    assert row[:4] == [str(visit.number), "'@1", "'+Orchard Estate", "'=HYPERLINK(1)"]


def test_weeks_as_a_file(order, finish, cast, client_for):
    finish(order)
    heading, row = _cells(client_for(cast.owner).get(reverse("jobs:weeks-csv")))
    assert len(heading) == len(row)
    assert row[1:] == ["1", "0", "1", "0.0", "0.0", "0.0", "1", "1", "0", "0"]


@pytest.mark.usefixtures("back")
def test_more_jobs_cost_no_more_queries(finish, cast, client_for, another):
    browser, address = client_for(cast.owner), reverse("jobs:week")

    def asked():
        with CaptureQueriesContext(connection) as captured:
            assert browser.get(address).status_code == 200
        return len(captured)

    def repair_with_a_question():
        order = another()
        finish(order)
        consent_add(visit=order.visit, member=cast.writer, said=YES)
        repair = work_order_create(judgement=order.judgement, member=cast.diagnostician)
        work_order_accept(order=repair, member=cast.mechanic)
        question_ask(order=repair, member=cast.mechanic, text="Which valve?")

    repair_with_a_question()
    few = asked()
    for _ in range(3):
        repair_with_a_question()
        another()
    assert asked() == few <= 25
