"""Time and parts used: always booked, shown against what was authorised, taken back by a line."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import Complaint, TimelineEvent, UsedLine
from jobs.selectors.used import used_on
from jobs.services.used import WasUsed, used_add, used_take_back
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
