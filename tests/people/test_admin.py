"""Administration pages are for whoever keeps the server, and they work with our own person."""

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import ApiToken, User
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
