"""Choosing the shop to work in, and the shop's settings."""

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.services import member_add
from shopdiag.people.shop_forms import zone_choices
from tests.people.forms import fields_of

SHOPS = reverse("people:shops")
SETTINGS = reverse("people:shop")
GIVEN = {
    "version": "1",
    "name": "Harbour Lane Garage",
    "address": "1 Harbour Lane",
    "phone": "+00 123",
    "time_zone": "Europe/Berlin",
    "pressure_unit": "bar",
    "distance_unit": "mi",
    "paper_size": "Letter",
    "currency": "GBP",
    "hourly_rate": "84,5",
    "suspect_below": "0.78",
    "watch_below": "0.9",
    "bank_even_within": "0,08",
    "altitude_m": "640",
}


def test_somebody_of_two_shops_is_asked_first(cast):
    client = Client()
    client.force_login(cast.both_here.user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(reverse("people:tokens"))["Location"] == SHOPS
    page = client.get(SHOPS).content.decode()
    assert "Harbour Lane Garage" in page
    assert "Mill Road Motors" in page
    assert client.post(SHOPS, {"shop": cast.other_shop.pk})["Location"] == reverse("home")
    assert client.get(reverse("people:tokens")).context["member"] == cast.both_there


def test_switching_changes_shop_and_role(cast, client_for):
    client = client_for(cast.both_here)
    assert client.get(SHOPS).context["member"] == cast.both_here
    client.post(SHOPS, {"shop": cast.other_shop.pk})
    seen = client.get(SHOPS).context
    assert seen["member"] == cast.both_there
    assert not seen["may"]["take_in"]


@pytest.mark.parametrize("shop", ["other", "0", "", "x", "²"])
def test_nobody_switches_into_a_shop_he_is_not_in(cast, client_for, shop):
    client = client_for(cast.writer)
    chosen = str(cast.other_shop.pk) if shop == "other" else shop
    assert client.post(SHOPS, {"shop": chosen}).status_code == 404
    assert client.session[SHOP_KEY] == cast.shop.pk


def test_an_owner_changes_the_settings_of_his_own_shop(cast, client_for):
    answer = client_for(cast.owner).post(SETTINGS, GIVEN)
    assert answer["Location"] == SETTINGS
    cast.shop.refresh_from_db()
    cast.other_shop.refresh_from_db()
    assert cast.shop.address == "1 Harbour Lane"
    assert (cast.shop.pressure_unit, cast.shop.distance_unit) == ("bar", "mi")
    assert cast.shop.paper_size == "Letter"
    assert (cast.shop.suspect_below, cast.shop.watch_below) == (0.78, 0.9)
    assert cast.shop.bank_even_within == 0.08
    assert cast.shop.altitude_m == 640
    assert str(cast.shop.hourly_rate) == "84.50"
    client_for(cast.owner).post(SETTINGS, GIVEN | {"version": "2", "hourly_rate": ""})
    cast.shop.refresh_from_db()
    assert cast.shop.hourly_rate is None
    assert cast.other_shop.pressure_unit == "kPa"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (
            {"suspect_below": "0.95"},
            "“Suspect below” must not be above “watch below”.",
        ),
        ({"suspect_below": "lots"}, "Enter a number."),
        ({"watch_below": "7"}, "at most 1.0"),
        ({"bank_even_within": "5"}, "at most 0.3"),
        ({"bank_even_within": "0.01"}, "at least 0.02"),
        ({"hourly_rate": "0"}, "at least 0.01"),
        ({"altitude_m": "9000"}, "at most 5000"),
        ({"name": ""}, "Fill this in."),
        ({"time_zone": "Moon/Tycho"}, "is not in it"),
    ],
)
def test_wrong_settings_are_told_and_what_was_typed_stays(cast, client_for, change, sentence):
    answer = client_for(cast.owner).post(SETTINGS, GIVEN | {"phone": "+99 999"} | change)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert 'value="+99 999"' in page
    # The head of the page still names the shop as it is saved.
    assert f">{cast.shop.name}</a>" in page
    cast.shop.refresh_from_db()
    assert cast.shop.phone == ""


def test_times_are_shown_in_the_shops_zone(cast, client_for):
    client = client_for(cast.owner)
    client.post(SETTINGS, GIVEN | {"time_zone": "Asia/Tokyo"})
    # 09:41 UTC is 18:41 in Tokyo, nine hours ahead the year round (IANA tz database).
    assert "18:41" in client.get(reverse("kit")).content.decode()


def test_two_owners_who_change_the_settings_at_once_lose_nothing(cast, client_for):
    second = member_add(
        shop=cast.shop, name="Ora", username="ora", role="owner", password="x-9-y-z-1"
    )
    one, other = client_for(cast.owner), client_for(second)
    stale = fields_of(other.get(SETTINGS))
    theirs = fields_of(one.get(SETTINGS)) | {"suspect_below": "0.75", "phone": "030 11"}
    assert one.post(SETTINGS, theirs).status_code == 302

    told = other.post(SETTINGS, stale | {"suspect_below": "0.7", "address": "2 Harbour Lane"})
    assert told.status_code == 409
    conflict = told.context["conflict"]
    assert conflict.by == cast.owner
    assert [(d.name, d.theirs, d.yours) for d in conflict.differences] == [
        ("address", "–", "2 Harbour Lane"),
        ("suspect_below", "0.75", "0.7"),
    ]
    assert [d.name for d in conflict.taken_over] == ["phone"]
    cast.shop.refresh_from_db()
    assert (cast.shop.suspect_below, cast.shop.phone, cast.shop.version) == (0.75, "030 11", 2)

    assert other.post(SETTINGS, fields_of(told)).status_code == 302
    cast.shop.refresh_from_db()
    assert (cast.shop.suspect_below, cast.shop.phone) == (0.7, "030 11")
    assert (cast.shop.version, cast.shop.changed_by) == (3, second)


def test_the_same_settings_sent_twice_are_no_conflict(cast, client_for):
    client = client_for(cast.owner)
    sent = fields_of(client.get(SETTINGS)) | {"phone": "030 11"}
    assert client.post(SETTINGS, sent).status_code == 302
    assert client.post(SETTINGS, sent).status_code == 302
    cast.shop.refresh_from_db()
    assert cast.shop.version == 2


@pytest.mark.parametrize("version", ["", "0", "x"])
def test_settings_without_the_version_they_were_opened_at_are_refused(cast, client_for, version):
    answer = client_for(cast.owner).post(SETTINGS, GIVEN | {"version": version})
    assert answer.status_code == 422
    cast.shop.refresh_from_db()
    assert cast.shop.version == 1


@pytest.mark.parametrize("shop", ["", "x", "0", "9" * 19, "9" * 5000])
def test_a_shop_that_is_none_is_not_found(cast, client_for, shop):
    answer = client_for(cast.both_here).post(reverse("people:shops"), {"shop": shop})
    assert answer.status_code == 404


def test_time_zones_come_in_groups_the_usual_first():
    groups = dict(zone_choices())
    assert next(iter(groups)) == "Often needed"
    assert ("Europe/Berlin", "Berlin") in groups["Europe"]
    offered = {name for names in groups.values() for name, _ in names}
    assert "UTC" in offered
    assert not offered & {"EST5EDT", "US/Eastern", "GB", "Etc/GMT+3"}
    # a shop that has an older name keeps it
    assert dict(zone_choices("US/Eastern"))["As it is"] == [("US/Eastern", "Eastern")]


@pytest.mark.parametrize(("typed", "kept"), [("usd", "USD"), ("CHF", "CHF"), ("euro", None)])
def test_a_currency_is_three_letters(cast, client_for, typed, kept):
    client, address = client_for(cast.owner), reverse("people:shop")
    form = client.get(address).context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in values.items() if value is not None}
    answer = client.post(address, {**sent, "currency": typed})
    cast.shop.refresh_from_db()
    assert cast.shop.currency == (kept or "EUR")
    assert answer.status_code == (302 if kept else 422)
