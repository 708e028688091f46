"""Invitations: one person, one role, once; and a link that leads nowhere tells nothing."""

import threading
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shopdiag.people.core.roles import Role
from shopdiag.people.invitations import (
    InvitationOverError,
    invitation_accept_new,
    invitation_create,
    invitation_revoke,
)
from shopdiag.people.models import Invitation, Member, User
from tests.conftest import PASSWORD, make_cast

PAGE = reverse("people:invitations")
NEW = {
    "name": "Nico New",
    "username": "nico",
    "password": "feeler-gauge-08",
    "password_again": "feeler-gauge-08",
}


@pytest.fixture(autouse=True)
def nothing_counted():
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def invited(cast):
    return invitation_create(member=cast.owner, label="Nico", role="mechanic")


def _join(key: str) -> str:
    return reverse("people:join", args=[key])


@pytest.mark.parametrize("role", list(Role))
def test_only_owners_invite(cast, client_for, role):
    client = client_for(cast.insiders[role])
    sent = {"form_token": str(uuid4()), "label": "Nico", "role": "mechanic"}
    assert client.get(PAGE).status_code == (200 if role is Role.OWNER else 403)
    assert client.post(PAGE, sent).status_code == (201 if role is Role.OWNER else 403)
    assert Invitation.objects.count() == (role is Role.OWNER)


def test_the_link_is_shown_once_and_kept_nowhere(cast, client_for):
    client = client_for(cast.owner)
    sent = {"form_token": str(uuid4()), "label": "Nico", "role": "mechanic"}
    link = client.post(PAGE, sent).context["link"]
    key = link.rstrip("/").rpartition("/")[2]
    assert len(key) >= 40
    row = Invitation.objects.get()
    stored = [str(getattr(row, f.attname)) for f in Invitation._meta.concrete_fields]
    assert not any(key in value for value in stored)
    again = client.post(PAGE, sent)
    assert (again.status_code, again.context["link"]) == (200, "")
    assert key not in client.get(PAGE).content.decode()
    assert Invitation.objects.count() == 1
    assert Client().get(link).status_code == 200


def test_a_newcomer_joins_once_with_a_password_of_their_own(cast, invited):
    invitation, key = invited
    client = Client()
    assert client.post(_join(key), NEW)["Location"] == reverse("home")
    member = Member.objects.get(user__username="nico")
    assert (member.shop, member.role, member.active) == (cast.shop, Role.MECHANIC, True)
    assert member.user.check_password(NEW["password"])
    assert (member.user.is_staff, member.user.is_superuser) == (False, False)
    assert client.get(reverse("jobs:board")).status_code == 200
    invitation.refresh_from_db()
    assert invitation.used_by == member
    # Sent once more by the same browser it leads on; anybody else finds nothing.
    assert client.get(_join(key))["Location"] == reverse("home")
    other = Client().post(_join(key), NEW | {"username": "nora"})
    assert other.status_code == 404
    assert not User.objects.filter(username="nora").exists()


def test_a_role_in_the_form_counts_for_nothing(cast, invited):
    Client().post(_join(invited[1]), NEW | {"role": "owner", "shop": str(cast.other_shop.pk)})
    member = Member.objects.get(user__username="nico")
    assert (member.role, member.shop) == (Role.MECHANIC, cast.shop)


@pytest.mark.parametrize(
    "change",
    [
        {"password_again": "other"},
        {"password": "12345678", "password_again": "12345678"},
        {"username": "a b"},
        {"name": ""},
    ],
)
def test_mistakes_come_back_and_leave_the_link_as_it_is(invited, change):
    people = User.objects.count()
    answer = Client().post(_join(invited[1]), NEW | change)
    assert answer.status_code == 422
    assert User.objects.count() == people
    invited[0].refresh_from_db()
    assert (invited[0].is_open, invited[0].refused) == (True, 0)


def _over(invitation: Invitation, how: str, cast) -> None:
    rows = Invitation.objects.filter(pk=invitation.pk)
    match how:
        case "run out":
            rows.update(expires_at=timezone.now() - timedelta(seconds=1))
        case "revoked":
            invitation_revoke(invitation=invitation)
        case "tried":
            rows.update(refused=Invitation.MOST_REFUSED)
        case "inviter left":
            Member.objects.filter(pk=cast.owner.pk).update(active=False)
        case "inviter no owner":
            Member.objects.filter(pk=cast.owner.pk).update(role="writer")
        case "used":
            rows.update(used_at=timezone.now(), used_by=cast.writer)


@pytest.mark.parametrize(
    "how", ["run out", "revoked", "tried", "inviter left", "inviter no owner", "used"]
)
def test_every_link_that_is_over_says_the_same(cast, invited, how):
    invitation, key = invited
    never = Client().get(_join("never-made"))
    _over(invitation, how, cast)
    over = Client().get(_join(key))
    assert over.status_code == never.status_code == 404
    assert over.templates[0].name == never.templates[0].name == "people/join_over.html"
    assert over.context["too_many"] is False
    assert cast.shop.name not in over.content.decode()
    assert Client().post(_join(key), NEW).status_code == 404
    assert not User.objects.filter(username="nico").exists()


@pytest.mark.parametrize("key", ["x", "%00", "ключ", "a" * 500, "../team"])
def test_odd_keys_lead_nowhere(cast, key):
    assert Client().get(f"/people/join/{key}/").status_code == 404


def test_taken_names_are_no_way_to_list_people(cast, invited):
    invitation, key = invited
    client = Client()
    taken = NEW | {"username": cast.writer.user.username.upper()}
    for tried in range(1, Invitation.MOST_REFUSED + 1):
        assert client.post(_join(key), taken).status_code == 422
        invitation.refresh_from_db()
        assert invitation.refused == tried
    assert client.post(_join(key), NEW).status_code == 404
    assert Member.objects.filter(shop=cast.shop, user__username="nico").count() == 0


def test_guessing_is_slowed_by_address_alone(cast, invited):
    for number in range(20):
        assert Client().get(_join(f"guess-{number}")).status_code == 404
    assert Client().get(_join("guess")).status_code == 429
    assert Client().get(_join(invited[1])).status_code == 429
    elsewhere = Client(REMOTE_ADDR="203.0.113.9").get(_join(invited[1]))
    assert elsewhere.status_code == 200


def test_somebody_known_joins_as_themselves(cast, client_for):
    _, key = invitation_create(member=cast.owner, label="Una", role="diagnostician")
    client = client_for(cast.other_owner)
    assert client.get(_join(key)).status_code == 200
    # What a newcomer would type changes nothing about whom they are.
    assert client.post(_join(key), NEW)["Location"] == reverse("home")
    joined = Member.objects.get(shop=cast.shop, user=cast.other_owner.user)
    assert joined.role == Role.DIAGNOSTICIAN
    assert joined.user.check_password(PASSWORD)
    assert not User.objects.filter(username="nico").exists()


def test_a_member_is_not_made_twice(cast, client_for, invited):
    answer = client_for(cast.writer).post(_join(invited[1]))
    assert answer.status_code == 422
    assert Member.objects.filter(shop=cast.shop, user=cast.writer.user).count() == 1
    cast.writer.refresh_from_db()
    assert cast.writer.role == Role.WRITER
    invited[0].refresh_from_db()
    assert invited[0].is_open


def test_only_the_own_shops_invitations_are_seen_and_revoked(cast, client_for, invited):
    revoke = reverse("people:invitation-revoke", args=[invited[0].pk])
    other = client_for(cast.other_owner)
    assert list(other.get(PAGE).context["rows"]) == []
    assert other.post(revoke).status_code == 404
    assert client_for(cast.diagnostician).post(revoke).status_code == 403
    assert client_for(cast.owner).post(revoke).status_code == 302
    invited[0].refresh_from_db()
    assert not invited[0].is_open


def test_the_link_is_told_to_nobody_the_page_leads_to(invited):
    answer = Client().get(_join(invited[1]))
    # None at all would have browsers post “Origin: null”, which the CSRF check refuses.
    assert answer["Referrer-Policy"] == "same-origin"
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.django_db(transaction=True)
def test_of_two_who_use_a_link_at_once_one_joins():
    cast = make_cast()
    _, key = invitation_create(member=cast.owner, label="Nico", role="mechanic")
    start = threading.Barrier(2)
    outcomes: list[str] = []

    def join(number: int) -> None:
        start.wait(timeout=10)
        try:
            invitation_accept_new(
                key=key, name="Nico", username=f"nico{number}", password="feeler-gauge-08"
            )
            outcomes.append("joined")
        except InvitationOverError:
            outcomes.append("over")
        finally:
            connection.close()

    both = [threading.Thread(target=join, args=(n,)) for n in (1, 2)]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join(timeout=30)
    assert sorted(outcomes) == ["joined", "over"]
    assert Member.objects.filter(user__username__startswith="nico").count() == 1
