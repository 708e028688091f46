"""Job page, board and week say the same of a job's next step, to everybody of the shop."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.core.next_step import Holder, Step, is_to_accept
from jobs.core.stages import Stage
from jobs.core.waiting import party_of
from jobs.models import Complaint, Outcome, Visit, VisitCapture
from jobs.selectors.board import board_of
from jobs.selectors.job_card import visit_card
from jobs.selectors.next_step import next_step_of
from jobs.selectors.open_jobs import open_jobs
from jobs.selectors.waiting import waiting_jobs
from jobs.selectors.work import visit_work
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.questions import question_answer, question_ask
from jobs.services.used import WasUsed, used_add
from jobs.services.visits import visit_move
from jobs.services.work import OrderWords, work_order_accept, work_order_create
from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member
from tests.jobs.demo_shop import fill_demo_shop
from traces.models import Work

YES = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400", scope="Valve")
OF_LISTED_ORDERS = {Step.ACCEPT, Step.RECORD}


def agree(members):
    """Hold page, board and week against each other; return each job's step by role."""
    steps: dict[int, dict[str, Step]] = {}
    weeks = {job.visit.pk: job for job in waiting_jobs(members[0])}
    for member in members:
        jobs = {job.visit.pk: job for job in open_jobs(member)}
        board = board_of(member)
        listed = {r.visit.pk: str(r.words) for r in (*board.waiting, *board.stopped) if r.is_mine}
        orders = {order.visit_id for order in board.work_orders}
        visits = Visit.objects.seen_by(member).exclude(stage=Stage.CLOSED).with_vehicle()
        assert set(jobs) == set(weeks) == {visit.pk for visit in visits}
        for visit in visits:
            card, work = visit_card(member, visit), visit_work(member, visit)
            page, job = next_step_of(member, visit, card, work), jobs[visit.pk]
            about = (visit.number, member.role, page.step)
            following = job.next_for(member)
            assert (following.step, following.is_mine) == (page.step, page.is_mine), about
            out, waits = job.records.open_order, weeks[visit.pk]
            has_order = out and (out.accepted_by or out.assigned_to)
            named = has_order.name if has_order else waits.holder or waits.party_words
            assert named in page.holder, about
            unclaimed = {row.visit.pk for row in board.for_anyone}
            is_free = page.is_mine and job.whose(page.step) is None
            assert (visit.pk in unclaimed) == (is_free and member.role == "diagnostician"), about
            if page.step in OF_LISTED_ORDERS:
                assert visit.pk not in listed, about
                assert page.is_mine == (visit.pk in orders), about
            else:
                has_it = page.is_mine and job.whose(page.step) == member
                assert (listed.get(visit.pk) == page.label) == has_it, about
            if member.role == Role.OWNER:
                week = weeks[visit.pk]
                assert week.party is party_of(page.step), about
                whose = job.whose(page.step)
                assert week.holder == (whose.name if whose else ""), about
            steps.setdefault(visit.pk, {})[member.role] = page.step
    return steps


@pytest.fixture
def everybody(cast):
    return (cast.owner, cast.diagnostician, cast.mechanic, cast.writer)


@pytest.fixture
def steps(everybody):
    """Return the steps of one job by role, once all pages agree."""
    return lambda visit: agree(everybody)[visit.pk]


def test_they_agree_on_a_job_from_intake_to_delivery(visit, steps, cast, by, *, run_of, sign):
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.LISTEN
    for state, step in (
        (Work.State.QUEUED, Step.ANALYSING),
        (Work.State.FAILED, Step.LOOK_AGAIN),
    ):
        run = run_of(visit, state=state)
        assert steps(visit)[Role.OWNER] is step
        VisitCapture.objects.filter(capture=run.capture).update(aside_why="Clamp slipped.")
    run = run_of(visit)
    assert steps(visit)[Role.OWNER] is Step.SIGN
    judgement = sign(visit, run)
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.MAKE_ORDER
    order = work_order_create(judgement=judgement, member=by)
    assert steps(visit)[Role.MECHANIC] is Step.ACCEPT
    work_order_accept(order=order, member=cast.mechanic)
    stop = question_ask(order=order, member=cast.mechanic, text="Coolant.", is_stop=True)
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.CALL_BACK
    question_answer(question=stop, member=by, text="Go on.")
    question = question_ask(order=order, member=cast.mechanic, text="Which plug?")
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.ANSWER
    question_answer(question=question, member=by, text="The third.")
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.")
    assert steps(visit)[Role.WRITER] is Step.CALL
    consent_add(visit=visit, member=cast.writer, said=YES)
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.ORDER_REPAIR
    repair = work_order_create(judgement=judgement, member=by, words=OrderWords(tests=()))
    assert steps(visit)[Role.MECHANIC] is Step.ACCEPT
    work_order_accept(order=repair, member=cast.mechanic)
    work_order_complete(order=repair, member=cast.mechanic, summary="Valve renewed.")
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.PROVE
    run_of(visit, purpose=VisitCapture.Purpose.VERIFICATION)
    assert steps(visit)[Role.DIAGNOSTICIAN] is Step.VERIFY
    written = {"cause": "Valve.", "correction": "Renewed.", "verified": Outcome.Verified.YES}
    Outcome.objects.update_or_create(visit=visit, defaults=written)
    assert steps(visit)[Role.WRITER] is Step.TO_DELIVERY
    visit.refresh_from_db()
    visit_move(visit=visit, to=Stage.HAND_BACK, member=cast.writer)
    assert steps(visit)[Role.WRITER] is Step.DELIVER


def test_a_repair_that_wants_a_new_verdict_is_signed_first(order, steps, cast):
    work_order_accept(order=order, member=cast.mechanic)
    for cylinder in (3, 2):
        found = NewFinding(cylinder, "gauge_dry", "bad", 620)
        finding_add(order=order, member=cast.mechanic, found=found)
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Both.", left_out="Clear.")
    consent_add(visit=order.visit, member=cast.writer, said=YES)
    assert steps(order.visit)[Role.DIAGNOSTICIAN] is Step.SIGN_REPAIR


def passed(order, member, minutes=90):
    Complaint.objects.filter(visit=order.visit).update(authorised_minutes=60)
    used = WasUsed(minutes=minutes, amount=Decimal(0), what="")
    return used_add(visit=order.visit, member=member, used=used, order=order)


def test_more_than_agreed_is_the_writers_next_step(order, steps, cast, client_for):
    work_order_accept(order=order, member=cast.mechanic)
    passed(order, cast.mechanic)
    found = steps(order.visit)
    assert found[Role.WRITER] is found[Role.DIAGNOSTICIAN] is Step.NEW_CONSENT
    assert found[Role.MECHANIC] is Step.RECORD
    page = client_for(cast.writer).get(reverse("jobs:visit", args=[order.visit_id]))
    following = page.context["page"].following
    assert (following.is_mine, following.page) == (True, "jobs:complaint-edit")
    dark = f'<a class="btn btn-primary" href="{reverse(following.page, args=[order.visit_id])}"'
    assert page.content.decode().count(dark) == 1
    card = next(v for c in board_of(cast.mechanic).columns for v in c.visits)
    assert card.is_passed
    Complaint.objects.filter(visit=order.visit).update(authorised_minutes=120)
    assert steps(order.visit)[Role.WRITER] is Step.RECORD


def test_a_stop_comes_before_a_new_consent_for_whoever_ordered(order, steps, cast):
    work_order_accept(order=order, member=cast.mechanic)
    passed(order, cast.mechanic)
    question_ask(order=order, member=cast.mechanic, text="Coolant.", is_stop=True)
    found = steps(order.visit)
    assert found[Role.DIAGNOSTICIAN] is Step.CALL_BACK
    assert found[Role.WRITER] is Step.NEW_CONSENT


def test_a_repair_that_passed_its_amount_leads_to_the_consent(order, steps, cast, by, client_for):
    work_order_accept(order=order, member=cast.mechanic)
    finding_add(order=order, member=cast.mechanic, found=NewFinding(3, "gauge_dry", "bad", 620))
    order.refresh_from_db()
    work_order_complete(order=order, member=cast.mechanic, summary="Valve.", left_out="Clear.")
    consent_add(visit=order.visit, member=cast.writer, said=YES)
    repair = work_order_create(judgement=order.judgement, member=by)
    work_order_accept(order=repair, member=cast.mechanic)
    used = WasUsed(minutes=0, amount=Decimal(500), what="Head")
    used_add(visit=order.visit, member=cast.mechanic, used=used, order=repair)
    assert steps(order.visit)[Role.WRITER] is Step.NEW_CONSENT
    page = client_for(cast.writer).get(reverse("jobs:visit", args=[order.visit_id]))
    assert page.context["page"].following.page == "jobs:consent-add"
    more = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="700")
    consent_add(visit=order.visit, member=cast.writer, said=more)
    assert steps(order.visit)[Role.WRITER] is Step.RECORD


def test_the_board_asks_as_much_for_five_jobs_as_for_one(
    order, cast, take_in, *, four, run_of, sign
):
    def asked():
        with CaptureQueriesContext(connection) as queries:
            board_of(cast.owner)
        return len(queries)

    one = asked()
    for _ in range(4):
        visit = take_in(cast.writer, engine=four)
        work_order_create(judgement=sign(visit, run_of(visit)), member=cast.diagnostician)
        used_add(
            visit=visit,
            member=cast.mechanic,
            used=WasUsed(minutes=9, amount=Decimal(0), what=""),
            order=visit.work_orders.get(),
        )
    assert asked() <= one + 1


@pytest.mark.django_db(transaction=True)
def test_they_agree_on_every_job_of_the_demo():
    people = fill_demo_shop()
    shop = people[Role.OWNER].shop
    members = [people[Role.OWNER], *Member.objects.filter(shop=shop).exclude(role=Role.OWNER)]
    assert len(agree(members)) > 3


@pytest.mark.parametrize(
    ("holder", "role", "is_theirs"),
    [
        (Holder.NOBODY, Role.MECHANIC, True),
        (Holder.NOBODY, Role.DIAGNOSTICIAN, False),
        (Holder.OTHER, Role.DIAGNOSTICIAN, False),
        (Holder.VIEWER, Role.DIAGNOSTICIAN, True),
    ],
)
def test_an_order_is_accepted_by_whom_it_waits_for(holder, role, is_theirs):
    assert is_to_accept(holder, role) is is_theirs


@pytest.mark.parametrize(("whose", "kind"), [("mechanic", "plain"), ("diagnostician", "primary")])
def test_accepting_is_dark_only_for_whom_it_waits_for(signed, cast, client_for, whose, kind):
    words = OrderWords(assigned_to=getattr(cast, whose))
    order = work_order_create(judgement=signed, member=cast.diagnostician, words=words)
    address = reverse("jobs:work-order", args=[order.pk])
    page = client_for(cast.diagnostician).get(address)
    assert page.context["accept_kind"] == kind
    form = page.content.decode().split(reverse("jobs:work-order-accept", args=[order.pk]))[1]
    assert f"btn-{kind}" in form.split("</form>")[0]
