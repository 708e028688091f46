"""Opening visits from several sides at once."""

from concurrent.futures import ThreadPoolExecutor
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from engines.models import Engine
from jobs.models import Complaint, Customer, Vehicle, Visit
from jobs.services.intake import complaint_change, visit_open
from shopdiag.people.models import Member
from shopdiag.people.services import shop_open


def new(words="It shakes."):
    return {
        "customer": Customer(name="Casey Customer"),
        "vehicle": Vehicle(make="Orchard", model="Estate"),
        "complaint": Complaint(words=words),
    }


@pytest.fixture
def member(transactional_db) -> Member:
    return shop_open(
        shop_name="Harbour Lane Garage",
        owner_name="Olive Owner",
        username="owner",
        password="bench-vise-1907",
    )


def at_once(work, times):
    """Run `work` in several threads, each with a connection of its own."""

    def one(n):
        try:
            return work(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


@pytest.mark.django_db(transaction=True)
def test_a_form_sent_twice_at_the_same_moment_is_one_visit(member):
    token = uuid4()
    visits = at_once(lambda _: visit_open(member=member, form_token=token, **new()).pk, 4)
    assert len(set(visits)) == 1
    assert (Visit.objects.count(), Customer.objects.count(), Vehicle.objects.count()) == (1, 1, 1)


@pytest.mark.django_db(transaction=True)
def test_numbers_rise_without_gap_or_double_when_two_write_at_once(member):
    at_once(lambda n: visit_open(member=member, **new(f"complaint {n}")).pk, 4)
    assert sorted(Visit.objects.values_list("number", flat=True)) == [1, 2, 3, 4]


def test_a_token_of_another_shop_does_not_lead_there(cast, visit, take_in):
    token = uuid4()
    theirs = take_in(cast.outsider, form_token=token)
    mine = take_in(cast.writer, form_token=token)
    assert mine != theirs
    assert mine.shop_id == cast.shop.pk


@pytest.mark.parametrize("what", ["customer", "vehicle", "engine"])
def test_rows_of_another_shop_are_refused(cast, their_visit, four, what):
    given = new()
    if what == "engine":
        Engine.objects.filter(pk=four.pk).update(shop=cast.other_shop)
        given["vehicle"].engine = Engine.objects.get(pk=four.pk)
    else:
        given[what] = their_visit.vehicle if what == "vehicle" else their_visit.vehicle.customer
    before = Visit.objects.count()
    with pytest.raises(ValidationError, match="not on file"):
        visit_open(member=cast.writer, **given)
    assert Visit.objects.count() == before


def test_a_refused_visit_leaves_nothing_behind(cast):
    given = new(words="")
    with pytest.raises(ValidationError):
        visit_open(member=cast.writer, **given)
    assert not Customer.objects.exists()
    assert not Vehicle.objects.exists()


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("260", "260 GBP"),
        ("1 250,50", "1 250,50 GBP"),
        ("260 EUR", "260 EUR"),
        ("£260", "£260"),
        ("up to 300", "up to 300"),
        ("", ""),
    ],
)
def test_a_bare_amount_gets_the_shops_currency(cast, take_in, typed, kept):
    cast.shop.currency = "GBP"
    cast.shop.save()
    visit = take_in(cast.writer)
    complaint = Complaint.objects.get(visit=visit)
    complaint.authorised_amount, complaint.authorised_by = typed, "Casey"
    cast.writer.refresh_from_db()
    complaint_change(
        complaint=complaint,
        expected_version=complaint.version,
        member=cast.writer,
        confirmed=True,
    )
    assert Complaint.objects.get(visit=visit).authorised_amount == kept
