"""Time and parts used: always booked, shown against what was authorised, taken back by a line."""

from dataclasses import replace
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import Complaint, RepairConsent, TimelineEvent, UsedLine, WorkOrder
from jobs.selectors.used import used_on
from jobs.services.completion import work_order_complete
from jobs.services.consent import SaidOnRepair, consent_add
from jobs.services.findings import NewFinding, finding_add
from jobs.services.questions import question_answer, question_ask
from jobs.services.used import WasUsed, used_add, used_take_back
from jobs.services.work import OrderWords, work_order_accept, work_order_create
from tests.jobs.work.kept_order import cast, kept, order, taken, visit  # noqa: F401 - fixtures


@pytest.fixture
def authorised(order):  # noqa: F811
    Complaint.objects.filter(visit=order.visit).update(
        authorised_minutes=60, authorised_amount="100 EUR"
    )
    return order


def book(order, member, minutes=0, amount=0, **more):  # noqa: F811
    used = WasUsed(minutes=minutes, amount=Decimal(amount), what=more.pop("what", ""))
    return used_add(visit=order.visit, member=member, used=used, order=order, **more)


def test_what_is_used_stands_beside_what_is_authorised(authorised, cast):  # noqa: F811
    book(authorised, cast.mechanic, 40)
    book(authorised, cast.diagnostician, 20, "99.50")
    found = used_on(authorised.visit).diagnosis
    assert (found.minutes, found.minutes_agreed) == (60, 60)
    assert (found.amount, found.amount_agreed) == (99.5, 100.0)
    assert not found.is_passed
    assert found.warning == ""
    assert not used_on(authorised.visit).repair.is_used


@pytest.mark.parametrize(("minutes", "amount"), [(61, "0"), (10, "100.01")])
def test_more_is_booked_all_the_same_and_asks_for_a_new_consent(
    client_for,
    authorised,
    cast,  # noqa: F811
    minutes,
    amount,
):
    address = reverse("jobs:used-add", args=[authorised.visit_id])
    sent = {
        "form_token": str(uuid4()),
        "work_order": str(authorised.pk),
        "minutes": str(minutes),
        "amount": amount,
    }
    told = client_for(cast.mechanic).post(address, sent)
    here = reverse("jobs:work-order", args=[authorised.pk])
    assert (told.status_code, told.headers["Location"]) == (302, here)
    (passed,) = used_on(authorised.visit).passed
    assert passed.minutes == minutes
    page = client_for(cast.mechanic).get(here)
    assert [b.warning for b in page.context["used"].passed] == [passed.warning]
    job = client_for(cast.writer).get(reverse("jobs:visit", args=[authorised.visit_id]))
    assert passed.warning in job.context["page"].short.questions
    consent = reverse("jobs:complaint-edit", args=[authorised.visit_id])
    assert f'href="{consent}"' in job.content.decode()
    # More was agreed to: nothing is asked any longer.
    Complaint.objects.update(authorised_minutes=90, authorised_amount="200 EUR")
    assert used_on(authorised.visit).passed == ()


def test_sent_twice_it_is_booked_once(order, cast):  # noqa: F811
    token = uuid4()
    first = book(order, cast.mechanic, 20, form_token=token)
    assert book(order, cast.mechanic, 20, form_token=token) == first
    assert UsedLine.objects.count() == 1


def test_the_same_under_another_token_is_asked_back(order, cast):  # noqa: F811
    book(order, cast.mechanic, 20, form_token=uuid4())
    with pytest.raises(ValidationError):
        book(order, cast.mechanic, 20, form_token=uuid4())
    book(order, cast.mechanic, 25, form_token=uuid4())


def test_a_line_is_taken_back_and_neither_counts(client_for, order, cast):  # noqa: F811
    line = book(order, cast.mechanic, 600)
    book(order, cast.mechanic, 60)
    address = reverse("jobs:used-add", args=[order.visit_id])
    for _ in range(2):
        sent = client_for(cast.mechanic).post(address, {"takes_back": str(line.pk)})
        assert sent.status_code == 302
    assert used_on(order.visit).diagnosis.minutes == 60
    assert list(UsedLine.objects.values_list("minutes", "takes_back")) == [
        (600, None),
        (60, None),
        (600, line.pk),
    ]
    told = TimelineEvent.objects.filter(kind="used").values_list("data__used", flat=True)
    assert list(told) == list(UsedLine.objects.values_list("pk", flat=True))


def test_nobody_takes_back_a_colleagues_line_but_who_orders_work(order, cast):  # noqa: F811
    line = book(order, cast.diagnostician, 20)
    with pytest.raises(ValidationError):
        used_take_back(line=line, member=cast.mechanic)
    used_take_back(line=line, member=cast.owner)
    assert not used_on(order.visit).shown


def test_nothing_is_no_line(client_for, order, cast):  # noqa: F811
    address = reverse("jobs:used-add", args=[order.visit_id])
    sent = client_for(cast.mechanic).post(address, {"form_token": str(uuid4()), "what": "Plugs"})
    assert sent.status_code == 422
    assert sent.context["form"].errors["minutes"]
    assert sent.context["form"]["what"].value() == "Plugs"


def test_who_may(client_for, order, cast):  # noqa: F811
    address = reverse("jobs:used-add", args=[order.visit_id])
    assert client_for(cast.mechanic).get(address).status_code == 200
    assert client_for(cast.writer).get(address).status_code == 403
    assert client_for(cast.outsider).get(address).status_code == 404
    line = book(order, cast.mechanic, 20)
    theirs = client_for(cast.outsider).post(address, {"takes_back": str(line.pk)})
    assert theirs.status_code == 404


# --- the repair, and labour that has a price ---


def finish(order, mechanic):  # noqa: F811
    work_order_accept(order=order, member=mechanic)
    for cylinder in order.cylinders or [3]:
        found = NewFinding(cylinder, "gauge_dry", "bad", 620)
        finding_add(order=order, member=mechanic, found=found)
    order.refresh_from_db()
    work_order_complete(order=order, member=mechanic, summary="Valve burnt.", left_out="Clear.")


@pytest.fixture
def repair(order, cast):  # noqa: F811
    """Return the order of a repair that the customer agreed to for 120 minutes and 200."""
    finish(order, cast.mechanic)
    said = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="200", minutes=120)
    consent_add(visit=order.visit, member=cast.writer, said=said)
    made: WorkOrder = work_order_create(judgement=order.judgement, member=cast.diagnostician)
    assert made.pk != order.pk
    return made


def test_a_repairs_minutes_stand_against_those_agreed(repair, cast, client_for):  # noqa: F811
    assert repair.scope_minutes == 120
    book(repair, cast.mechanic, 120, "199")
    found = used_on(repair.visit).repair
    assert (found.minutes, found.minutes_agreed, found.is_passed) == (120, 120, False)
    book(repair, cast.mechanic, 1)
    (passed,) = used_on(repair.visit).passed
    assert passed.is_repair
    job = client_for(cast.writer).get(reverse("jobs:visit", args=[repair.visit_id]))
    assert f'href="{reverse("jobs:consent-add", args=[repair.visit_id])}"' in job.content.decode()
    # More was agreed to: the last yes counts.
    more = SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="200", minutes=180)
    consent_add(visit=repair.visit, member=cast.writer, said=more)
    assert used_on(repair.visit).passed == ()


def test_labour_counts_where_the_shop_has_a_rate(repair, cast):  # noqa: F811
    shop = repair.visit.shop
    book(repair, cast.mechanic, 30)
    assert used_on(repair.visit).repair.labour is None
    shop.hourly_rate = Decimal("80.00")
    shop.save()
    repair.visit.refresh_from_db()
    # What was booked without a rate stays so: what a job cost is not priced anew.
    assert used_on(repair.visit).repair.labour is None
    book(repair, cast.mechanic, 90, "79.99")
    found = used_on(repair.visit).repair
    assert (found.labour, found.cost, found.is_passed) == (120.0, 199.99, False)
    book(repair, cast.mechanic, 1)
    assert used_on(repair.visit).repair.cost == 201.32
    assert used_on(repair.visit).repair.is_passed
    shop.hourly_rate = None
    shop.save()
    assert used_on(repair.visit).repair.cost == 201.32


def test_a_rate_that_changes_later_changes_no_line_of_before(repair, cast):  # noqa: F811
    shop = repair.visit.shop
    shop.hourly_rate = Decimal("80.00")
    shop.save()
    repair.visit.refresh_from_db()
    line = book(repair, cast.mechanic, 60)
    assert line.hourly_rate == Decimal("80.00")
    shop.hourly_rate = Decimal("100.00")
    shop.save()
    repair.visit.shop.refresh_from_db()
    book(repair, cast.mechanic, 30)
    assert used_on(repair.visit).repair.labour == 130.0
    counter = used_take_back(line=line, member=cast.mechanic)
    assert counter.hourly_rate == line.hourly_rate
    assert used_on(repair.visit).repair.labour == 50.0


def test_an_order_of_more_minutes_than_agreed_is_asked_back(order, cast):  # noqa: F811
    finish(order, cast.mechanic)
    said = SaidOnRepair(agreed=True, said_by="Casey", how="phone", minutes=120)
    consent_add(visit=order.visit, member=cast.writer, said=said)
    words = OrderWords(scope_minutes=121)
    with pytest.raises(ValidationError):
        work_order_create(judgement=order.judgement, member=cast.diagnostician, words=words)
    made = work_order_create(
        judgement=order.judgement, member=cast.diagnostician, words=replace(words, confirmed=True)
    )
    assert made.scope_minutes == 121


@pytest.mark.parametrize("minutes", [5, 3000])
def test_odd_minutes_of_a_repair_are_asked_back(order, cast, minutes):  # noqa: F811
    said = SaidOnRepair(agreed=True, said_by="Casey", how="phone", minutes=minutes)
    with pytest.raises(ValidationError):
        consent_add(visit=order.visit, member=cast.writer, said=said)
    noted = consent_add(visit=order.visit, member=cast.writer, said=replace(said, confirmed=True))
    assert noted.minutes == minutes
    assert str(minutes) in TimelineEvent.objects.filter(kind="consent").latest("pk").words


def test_the_form_takes_the_minutes(client_for, order, cast):  # noqa: F811
    address = reverse("jobs:consent-add", args=[order.visit_id])
    sent = {"form_token": str(uuid4()), "agreed": "yes", "said_by": "Casey", "how": "phone"}
    client_for(cast.writer).post(address, {**sent, "minutes": "90"})
    assert RepairConsent.objects.get().minutes == 90
    back = client_for(cast.writer).post(address, {**sent, "minutes": "many"})
    assert back.status_code == 422
    assert back.context["form"]["minutes"].value() == "many"


def test_the_job_report_tells_what_was_agreed_asked_and_used(order, cast, client_for):  # noqa: F811
    job = order.visit
    Complaint.objects.filter(visit=job).update(
        warning_lights=["engine"], authorised_by="Casey", authorised_minutes=60
    )
    consent_add(
        visit=job,
        member=cast.writer,
        said=SaidOnRepair(agreed=True, said_by="Casey", how="phone", amount="400"),
    )
    asked = question_ask(order=order, member=cast.mechanic, text="Which gasket?", is_stop=True)
    question_answer(question=asked, member=cast.diagnostician, text="The head's.")
    used_add(visit=job, member=cast.mechanic, used=WasUsed(35))
    told = {}
    for member in (cast.writer, cast.mechanic):
        page = client_for(member).get(reverse("jobs:job-report", args=[job.pk]))
        told[member.role] = page.context["sheet"]
    for words in ("60 min", "400", "Which gasket?", "The head&#x27;s.", "35 of 60"):
        assert words in told["writer"], words
        assert words in told["mechanic"], words
    assert "Casey, by phone" in told["writer"]
    assert "Casey, by phone" not in told["mechanic"]
