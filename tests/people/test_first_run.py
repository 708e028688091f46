"""The page that opens the first shop, once."""

import threading

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from shopdiag.people.core.roles import Role
from shopdiag.people.models import Member, Shop, User
from shopdiag.people.services import ShopExistsError, first_shop_open

FIRST_RUN = reverse("people:first-run")
GIVEN = {
    "shop_name": "Canal Street Repairs",
    "time_zone": "Europe/Lisbon",
    "name": "Ola Opener",
    "username": "ola",
    "password": "bench-vise-1907",
    "password_again": "bench-vise-1907",
    "pressure_unit": "bar",
    "distance_unit": "km",
    "paper_size": "A4",
    "currency": "EUR",
}


@pytest.mark.django_db
def test_sign_in_leads_there_while_there_is_no_shop():
    assert Client().get(reverse("people:sign-in"))["Location"] == FIRST_RUN


@pytest.mark.django_db
def test_it_opens_the_shop_and_signs_the_owner_in():
    client = Client()
    assert client.get(FIRST_RUN).status_code == 200
    assert client.post(FIRST_RUN, GIVEN)["Location"] == reverse("home")
    owner = Member.objects.get()
    assert (owner.role, owner.shop.name, owner.name) == (
        Role.OWNER,
        "Canal Street Repairs",
        "Ola Opener",
    )
    assert owner.shop.time_zone == "Europe/Lisbon"
    assert client.get(reverse("people:team")).status_code == 200


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"password_again": "other"}, "The two passwords differ; type both once more."),
        ({"password": "12345678", "password_again": "12345678"}, "too common"),
        ({"username": "a b"}, "Enter a valid username"),
        ({"shop_name": ""}, "Fill this in."),
        ({"time_zone": "Moon/Tycho"}, "is not in it"),
    ],
)
def test_mistakes_are_told_and_nothing_is_lost_or_made(change, sentence):
    answer = Client().post(FIRST_RUN, GIVEN | change)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert sentence in page
    assert 'value="Ola Opener"' in page
    assert not Shop.objects.exists()
    assert not User.objects.exists()


def test_it_is_gone_once_there_is_a_shop(cast):
    shops = Shop.objects.count()
    assert Client().get(FIRST_RUN)["Location"] == reverse("people:sign-in")
    assert Client().post(FIRST_RUN, GIVEN)["Location"] == reverse("people:sign-in")
    assert Shop.objects.count() == shops


@pytest.mark.django_db(transaction=True)
def test_of_two_who_open_at_once_one_wins():
    start = threading.Barrier(2)
    outcomes: list[str] = []

    def open_shop(number: int) -> None:
        start.wait(timeout=10)
        try:
            first_shop_open(
                shop_name=f"Shop {number}",
                owner_name="Somebody",
                username=f"owner{number}",
                password="bench-vise-1907",
            )
            outcomes.append("opened")
        except ShopExistsError:
            outcomes.append("too late")
        finally:
            connection.close()

    both = [threading.Thread(target=open_shop, args=(n,)) for n in (1, 2)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join(timeout=30)
    assert sorted(outcomes) == ["opened", "too late"]
    assert Shop.objects.count() == User.objects.count() == Member.objects.count() == 1


@pytest.mark.django_db
def test_units_paper_and_currency_are_asked():
    given = GIVEN | {
        "pressure_unit": "psi",
        "distance_unit": "mi",
        "paper_size": "Letter",
        "currency": "usd",
    }
    assert Client().post(FIRST_RUN, given).status_code == 302
    shop = Shop.objects.get()
    assert (shop.pressure_unit, shop.distance_unit, shop.paper_size, shop.currency) == (
        "psi",
        "mi",
        "Letter",
        "USD",
    )


@pytest.mark.django_db
@pytest.mark.parametrize(
    "change", [{"pressure_unit": "bananas"}, {"paper_size": "A3"}, {"currency": "E"}]
)
def test_units_nobody_has_are_refused(change):
    assert Client().post(FIRST_RUN, GIVEN | change).status_code == 422
    assert not Shop.objects.exists()
