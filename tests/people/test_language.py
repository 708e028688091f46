"""Everybody reads in the language they chose, strangers in the one their browser asks for."""

import pytest
from django.test import Client
from django.urls import reverse

from shopdiag.people.models import User
from tests.conftest import PASSWORD

SIGN_IN = reverse("people:sign-in")
LANGUAGE = reverse("people:language")


def _language(answer) -> str:
    """Return the language a page says it is in; its texts are held against it elsewhere."""
    stated: str = answer["Content-Language"]
    assert f'<html lang="{stated}"' in answer.content.decode()
    return stated


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        ("", "en"),
        ("es", "es"),
        ("es-MX,es;q=0.9,en;q=0.8", "es"),
        ("fr,es;q=0.5", "es"),
        ("fr", "en"),
        ("en-GB,es;q=0.5", "en"),
        ("nonsense;;q=x", "en"),
    ],
)
def test_a_stranger_is_answered_as_the_browser_asks(cast, asked, answered):
    answer = Client(headers={"accept-language": asked}).get(SIGN_IN)
    assert _language(answer) == answered
    assert "Accept-Language" in answer["Vary"]


def test_what_a_person_chose_counts_on_every_device(cast, client_for):
    page = client_for(cast.mechanic).post(LANGUAGE, {"language": "es"}, follow=True)
    assert _language(page) == "es"
    other_device = client_for(cast.mechanic)
    other_device.defaults["HTTP_ACCEPT_LANGUAGE"] = "en"
    assert _language(other_device.get(LANGUAGE)) == "es"
    assert _language(client_for(cast.writer).get(LANGUAGE)) == "en"


def test_a_person_may_follow_the_browser_again(cast, client_for):
    User.objects.filter(pk=cast.mechanic.user_id).update(language="es")
    client = client_for(cast.mechanic)
    client.defaults["HTTP_ACCEPT_LANGUAGE"] = "en"
    assert _language(client.post(LANGUAGE, {"language": ""}, follow=True)) == "en"


@pytest.mark.parametrize("language", ["xx", "../es", "es\0", "de"])
def test_a_language_that_is_not_offered_is_refused(cast, client_for, language):
    answer = client_for(cast.mechanic).post(LANGUAGE, {"language": language})
    assert answer.status_code == 422
    assert User.objects.get(pk=cast.mechanic.user_id).language == ""


def test_the_sign_in_page_offers_the_other_language_and_keeps_where_to_go(cast):
    page = Client().get(f"{SIGN_IN}?next=/people/tokens/")
    assert 'href="?language=es&amp;next=/people/tokens/"' in page.content.decode().replace(
        "%2F", "/"
    )


def test_who_signs_in_on_the_spanish_page_reads_spanish_from_then_on(cast):
    client = Client(headers={"accept-language": "en"})
    page = client.get(f"{SIGN_IN}?language=es")
    assert _language_of_page(page) == "es"
    wrong = client.post(SIGN_IN, {"username": "mech", "password": "x", "language": "es"})
    assert _language_of_page(wrong) == "es"
    assert User.objects.get(pk=cast.mechanic.user_id).language == ""
    user = cast.mechanic.user.username
    client.post(SIGN_IN, {"username": user, "password": PASSWORD, "language": "es"})
    assert User.objects.get(pk=cast.mechanic.user_id).language == "es"
    assert _language(client.get(LANGUAGE)) == "es"


def test_signing_in_without_choosing_changes_nothing(cast):
    User.objects.filter(pk=cast.mechanic.user_id).update(language="es")
    client = Client()
    user = cast.mechanic.user.username
    client.post(SIGN_IN, {"username": user, "password": PASSWORD})
    assert User.objects.get(pk=cast.mechanic.user_id).language == "es"


def test_an_unknown_language_on_the_sign_in_page_is_passed_over(cast):
    page = Client().get(f"{SIGN_IN}?language=xx")
    assert _language_of_page(page) == "en"
    assert 'name="language"' not in page.content.decode()


def _language_of_page(answer) -> str:
    page: str = answer.content.decode()
    return page.split('<html lang="')[1].split('"', maxsplit=1)[0]


def test_scripts_get_their_texts_in_the_language_of_the_page(cast, client_for):
    User.objects.filter(pk=cast.mechanic.user_id).update(language="es")
    page = client_for(cast.mechanic).get(LANGUAGE).content.decode()
    address = page.split('<script src="/texts.js')[1].split('"')[0].replace("&amp;", "&")
    answer = Client().get(f"/texts.js{address}")
    assert answer["Content-Type"].startswith("text/javascript")
    assert "gettext" in answer.content.decode()
    assert "/texts.js" not in client_for(cast.writer).get(LANGUAGE).content.decode()


def test_programs_are_answered_in_english_unless_they_ask(cast):
    answer = Client().get("/api/visits/")
    assert (answer.status_code, answer["Content-Language"]) == (401, "en")
    asked = Client(headers={"accept-language": "es"}).get("/api/visits/")
    assert (asked.status_code, asked["Content-Language"]) == (401, "es")
