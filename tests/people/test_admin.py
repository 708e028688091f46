"""Administration pages are for whoever keeps the server, and they work with our own person."""

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import ApiToken, User
from shopdiag.people.selectors import member_by_token
from shopdiag.people.services import token_create

PAGES = ["user", "shop", "apitoken"]


@pytest.fixture
def keeper(db):
    user = User.objects.create_superuser(username="keeper", password="a-b-c-1-2-3", name="Kim K")
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.parametrize("page", PAGES)
def test_lists_open_for_the_keeper(cast, keeper, page):
    token_create(member=cast.writer, label="till")
    answer = keeper.get(reverse(f"admin:people_{page}_changelist"), {"q": "a"})
    assert answer.status_code == 200


@pytest.mark.parametrize("page", PAGES)
def test_lists_stay_shut_for_an_owner(cast, client_for, page):
    answer = client_for(cast.owner).get(reverse(f"admin:people_{page}_changelist"))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("admin:login"))


def test_a_person_is_made_and_changed(cast, keeper):
    made = keeper.post(
        reverse("admin:people_user_add"),
        {
            "username": "nico",
            "name": "Nico New",
            "usable_password": "true",
            "password1": "feeler-gauge-08",
            "password2": "feeler-gauge-08",
        },
    )
    user = User.objects.get(username="nico")
    assert made.status_code == 302
    assert user.check_password("feeler-gauge-08")
    page = keeper.get(reverse("admin:people_user_change", args=[user.pk]))
    assert "Nico New" in page.content.decode()


def test_a_shop_shows_its_members(cast, keeper):
    page = keeper.get(reverse("admin:people_shop_change", args=[cast.shop.pk])).content.decode()
    assert "Dana Diag" in page


def test_tokens_are_not_made_here(cast, keeper):
    assert keeper.get(reverse("admin:people_apitoken_add")).status_code == 403
    assert not ApiToken.objects.exists()


def test_a_password_set_here_ends_the_persons_tokens(cast, keeper):
    token, _ = token_create(member=cast.writer, label="till")
    others, _ = token_create(member=cast.mechanic, label="till")
    answer = keeper.post(
        reverse("admin:auth_user_password_change", args=[cast.writer.user_id]),
        {
            "usable_password": "true",
            "password1": "feeler-gauge-08",
            "password2": "feeler-gauge-08",
        },
    )
    assert answer.status_code == 302
    token.refresh_from_db()
    others.refresh_from_db()
    assert token.revoked_at is not None
    assert others.revoked_at is None


def test_a_person_switched_off_here_loses_his_tokens_for_good(cast, keeper):
    _, key = token_create(member=cast.writer, label="till")
    user = cast.writer.user
    address = reverse("admin:people_user_change", args=[user.pk])
    sent = {
        "username": user.username,
        "name": user.name,
        "email": "",
        "date_joined_0": "2026-01-01",
        "date_joined_1": "00:00:00",
    }
    assert keeper.post(address, sent).status_code == 302
    assert keeper.post(address, sent | {"is_active": "on"}).status_code == 302
    user.refresh_from_db()
    assert user.is_active
    assert member_by_token(key) is None


def test_a_member_switched_off_here_loses_his_tokens_for_good(cast, keeper):
    _, key = token_create(member=cast.writer, label="till")
    rows = list(cast.shop.members.order_by("pk"))
    sent = {
        "name": cast.shop.name,
        "address": "",
        "phone": "",
        "time_zone": "UTC",
        "pressure_unit": "kPa",
        "distance_unit": "km",
        "paper_size": "A4",
        "currency": "EUR",
        "suspect_below": "0.8",
        "watch_below": "0.88",
        "bank_even_within": "0.05",
        "altitude_m": "0",
        "members-TOTAL_FORMS": len(rows),
        "members-INITIAL_FORMS": len(rows),
    }
    for n, row in enumerate(rows):
        sent |= {
            f"members-{n}-id": row.pk,
            f"members-{n}-shop": cast.shop.pk,
            f"members-{n}-user": row.user_id,
            f"members-{n}-role": row.role,
        }
        if row != cast.writer:
            sent[f"members-{n}-active"] = "on"
    address = reverse("admin:people_shop_change", args=[cast.shop.pk])
    assert keeper.post(address, sent).status_code == 302
    cast.writer.refresh_from_db()
    assert not cast.writer.active
    cast.writer.active = True
    cast.writer.save()
    assert member_by_token(key) is None
