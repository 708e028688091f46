"""Signing in and out, and what happens to somebody who keeps guessing."""

from django.test import Client
from django.urls import reverse

from shopdiag.people.middleware import SHOP_KEY
from shopdiag.people.services import member_change
from tests.conftest import PASSWORD
from tests.wording import says, wording

SIGN_IN = reverse("people:sign-in")


def _try(client: Client, username: str, password: str, **extra):
    return client.post(SIGN_IN, {"username": username, "password": password}, **extra)


def test_right_password_leads_to_the_start(cast):
    client = Client()
    answer = _try(client, "diag", PASSWORD)
    assert answer.status_code == 302
    assert answer["Location"] == reverse("home")
    assert client.session["_auth_user_id"] == str(cast.diagnostician.user_id)


def test_sign_in_goes_on_to_the_page_that_was_asked_for(cast):
    client = Client()
    wanted = reverse("people:tokens")
    turned_away = client.get(wanted)
    assert turned_away["Location"] == f"{SIGN_IN}?next={wanted}"
    answer = client.post(
        turned_away["Location"], {"username": "mech", "password": PASSWORD, "next": wanted}
    )
    assert answer["Location"] == wanted


def test_sign_in_never_leads_to_another_site(cast):
    answer = Client().post(
        SIGN_IN, {"username": "mech", "password": PASSWORD, "next": "https://elsewhere.example/"}
    )
    assert answer["Location"] == reverse("home")


def test_wrong_password_gets_one_sentence_and_keeps_the_name(cast):
    answer = _try(Client(), "diag", "wrong")
    page = answer.content.decode()
    assert page.count(wording("people-forms.username-password-not-right")) == 1
    assert 'value="diag"' in page
    assert "wrong" not in page


def test_the_ninth_guess_meets_a_closed_door_and_so_does_the_right_password(cast, settings):
    client = Client()
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        assert _try(client, "diag", "wrong").status_code == 200
    locked = _try(client, "diag", "wrong")
    assert locked.status_code == 429
    assert "people/locked_out.html" in [t.name for t in locked.templates]
    assert _try(client, "diag", PASSWORD).status_code == 429
    assert "_auth_user_id" not in client.session


def test_a_colleague_on_the_same_tablet_is_not_locked_out(cast, settings):
    client = Client()
    for _ in range(settings.AXES_FAILURE_LIMIT):
        _try(client, "diag", "wrong")
    assert _try(client, "mech", PASSWORD).status_code == 302


def test_guessing_elsewhere_does_not_lock_the_person_out(cast, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        _try(Client(), "diag", "wrong", REMOTE_ADDR="192.0.2.7")
    assert _try(Client(), "diag", PASSWORD, REMOTE_ADDR="192.0.2.8").status_code == 302


def test_signing_out_is_a_post_and_ends_the_session(cast, client_for):
    client = client_for(cast.writer)
    assert client.get(reverse("people:sign-out")).status_code == 405
    assert client.post(reverse("people:sign-out"))["Location"] == SIGN_IN
    assert client.get(reverse("people:tokens")).status_code == 302


def test_own_password_is_changed_with_the_old_one_only(cast, client_for):
    client = client_for(cast.mechanic)
    address = reverse("people:password")
    new = {"new_password1": "torque-wrench-42", "new_password2": "torque-wrench-42"}
    assert client.post(address, {"old_password": "guess", **new}).status_code == 200
    assert client.post(address, {"old_password": PASSWORD, **new}).status_code == 302
    assert _try(Client(), "mech", "torque-wrench-42").status_code == 302


def test_somebody_who_left_sees_no_shop_any_more(cast, client_for):
    client = client_for(cast.mechanic)
    member_change(
        member=cast.mechanic,
        role=cast.mechanic.role,
        active=False,
        by=cast.owner,
        expected_version=cast.mechanic.version,
    )
    answer = client.get(reverse("people:tokens"))
    assert answer["Location"] == reverse("people:shops")
    assert says(client.get(answer["Location"]).content.decode(), "shops.you-no-shop")


def test_a_foreign_shop_in_the_session_is_not_believed(cast, client_for):
    client = client_for(cast.both_here)
    session = client.session
    session[SHOP_KEY] = 999_999
    session.save()
    assert client.get(reverse("people:tokens"))["Location"] == reverse("people:shops")
