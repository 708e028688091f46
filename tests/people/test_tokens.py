"""Tokens: made by each member, shown once, revoked at once, never another's power."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils.timezone import localtime
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.test import APIRequestFactory
from rest_framework.views import APIView

from shopdiag.people.authentication import (
    IsMember,
    MemberTokenAuthentication,
    member_of,
)
from shopdiag.people.core.roles import Action
from shopdiag.people.core.tokens import token_digest
from shopdiag.people.models import ApiToken
from shopdiag.people.services import member_change, token_create, token_revoke
from tests.conftest import PASSWORD

TOKENS = reverse("people:tokens")
SHOP_TOKENS = reverse("people:shop-tokens")
PASSWORD_PAGE = reverse("people:password")
NEW = {"new_password1": "torque-wrench-42", "new_password2": "torque-wrench-42"}


def _ask(header: str | None, method: str = "get") -> Request:
    extra = {} if header is None else {"HTTP_AUTHORIZATION": header}
    plain = getattr(APIRequestFactory(), method)("/", **extra)
    return Request(plain, authenticators=[MemberTokenAuthentication()])


def _make(client) -> str:
    answer = client.post(TOKENS, {"label": "bench laptop"})
    assert answer.status_code == 201
    key: str = answer.context["key"]
    return key


@pytest.mark.parametrize("role", ["owner", "diagnostician", "mechanic", "writer"])
def test_everybody_makes_his_own(cast, client_for, role):
    member = getattr(cast, role)
    key = _make(client_for(member))
    request = _ask(f"Token {key}")
    assert request.user == member.user
    assert member_of(request) == member


def test_the_key_is_shown_once_and_kept_nowhere(cast, client_for):
    client = client_for(cast.writer)
    key = _make(client)
    assert key not in client.get(TOKENS).content.decode()
    token = ApiToken.objects.get()
    assert token.digest == token_digest(key)
    kept = [str(value) for value in ApiToken.objects.values_list()[0]]
    assert all(key not in value for value in kept)
    assert "no-store" in client.post(TOKENS, {"label": "x"})["Cache-Control"]


def test_the_digest_is_sha256():
    # NIST FIPS 180-4 example: SHA-256 of the three bytes "abc".
    assert token_digest("abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_a_token_needs_a_purpose(cast, client_for):
    assert client_for(cast.writer).post(TOKENS, {"label": " "}).status_code == 422
    assert not ApiToken.objects.exists()


def test_a_revoked_token_is_refused_at_once(cast, client_for):
    client = client_for(cast.diagnostician)
    key = _make(client)
    token = ApiToken.objects.get()
    assert client.post(reverse("people:token-revoke", args=[token.pk]))["Location"] == TOKENS
    with pytest.raises(AuthenticationFailed, match="revoked"):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))


def test_nobody_but_an_owner_sees_or_revokes_anothers_token(cast, client_for):
    token, _ = token_create(member=cast.mechanic, label="phone of the mechanic")
    own, shops = (
        reverse(f"people:{name}", args=[token.pk]) for name in ("token-revoke", "shop-token-revoke")
    )
    for member in (cast.owner, cast.diagnostician, cast.writer, cast.outsider, cast.other_owner):
        client = client_for(member)
        assert "phone of the mechanic" not in client.get(TOKENS).content.decode()
        assert client.post(own).status_code == 404
        if member == cast.owner:
            continue
        keeps = member == cast.other_owner
        assert client.post(shops).status_code == (404 if keeps else 403)
        answer = client.get(SHOP_TOKENS)
        assert answer.status_code == (200 if keeps else 403)
        assert "phone of the mechanic" not in answer.content.decode()
    token.refresh_from_db()
    assert token.revoked_at is None


def test_an_owner_sees_whose_tokens_act_in_the_shop_and_ends_one(cast, client_for):
    token, key = token_create(member=cast.mechanic, label="bench <b>laptop</b>")
    token_create(member=cast.both_there, label="in the other shop")
    MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))
    client = client_for(cast.owner)
    page = client.get(SHOP_TOKENS).content.decode()
    assert "Mika Mech" in page
    assert "bench &lt;b&gt;laptop&lt;/b&gt;" in page
    assert "in the other shop" not in page
    token.refresh_from_db()
    assert f"{localtime(token.last_used_at):%H:%M}" in page

    answer = client.post(reverse("people:shop-token-revoke", args=[token.pk]))
    assert answer["Location"] == SHOP_TOKENS
    with pytest.raises(AuthenticationFailed, match="revoked"):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))
    # Both sides read who ended it.
    assert "by Olive Owner" in client.get(SHOP_TOKENS).content.decode()
    assert "by Olive Owner" in client_for(cast.mechanic).get(TOKENS).content.decode()


def test_many_tokens_ask_the_database_as_often_as_few(
    cast, client_for, django_assert_num_queries, django_assert_max_num_queries
):
    client = client_for(cast.owner)
    token_create(member=cast.mechanic, label="x")
    with django_assert_max_num_queries(8) as few:
        client.get(SHOP_TOKENS)
    for member in (cast.writer, cast.diagnostician, cast.owner):
        token, _ = token_create(member=member, label="x")
        token_revoke(token=token, by=cast.owner)
    with django_assert_num_queries(len(few)):
        client.get(SHOP_TOKENS)


def test_revoking_by_a_link_does_nothing(cast, client_for):
    token, _ = token_create(member=cast.mechanic, label="x")
    address = reverse("people:token-revoke", args=[token.pk])
    assert client_for(cast.mechanic).get(address).status_code == 405


@pytest.mark.parametrize("header", ["Token", "Token a b", "Token nonsense", "Token \xff"])
def test_broken_headers_are_refused_with_a_sentence(db, header):
    with pytest.raises(AuthenticationFailed) as caught:
        MemberTokenAuthentication().authenticate(_ask(header))
    assert str(caught.value.detail).endswith((".", "”."))


@pytest.mark.parametrize("header", [None, "Basic abc", "Bearer abc"])
def test_other_schemes_are_left_to_others(db, header):
    assert MemberTokenAuthentication().authenticate(_ask(header)) is None


def test_a_token_ends_with_its_member_and_its_person(cast):
    _, key = token_create(member=cast.writer, label="x")
    member_change(
        member=cast.writer,
        role=cast.writer.role,
        active=False,
        by=cast.owner,
        expected_version=cast.writer.version,
    )
    with pytest.raises(AuthenticationFailed):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))
    _, key = token_create(member=cast.mechanic, label="x")
    cast.mechanic.user.is_active = False
    cast.mechanic.user.save()
    with pytest.raises(AuthenticationFailed):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))


def test_a_token_stands_for_one_shop_only(cast):
    _, key = token_create(member=cast.both_here, label="x")
    assert member_of(_ask(f"Token {key}")).shop == cast.shop


def test_methods_a_view_does_not_name_are_refused(cast):
    class View(APIView):
        actions = {"GET": Action.SEE_WORK, "POST": Action.TAKE_IN}

    _, key = token_create(member=cast.mechanic, label="x")
    allowed = {
        method: IsMember().has_permission(_ask(f"Token {key}", method), View())
        for method in ("get", "head", "options", "post", "put", "delete")
    }
    assert allowed == {
        "get": True,
        "head": True,
        "options": True,
        "post": False,
        "put": False,
        "delete": False,
    }


def test_a_view_that_names_nothing_lets_nobody_in(cast):
    _, key = token_create(member=cast.owner, label="x")
    assert not IsMember().has_permission(_ask(f"Token {key}"), APIView())


def test_use_is_noted_and_revoking_twice_keeps_the_first_time(cast):
    token, key = token_create(member=cast.owner, label="x")
    assert _ask(f"Token {key}").auth is not None
    token.refresh_from_db()
    assert token.last_used_at is not None
    token_revoke(token=token, by=cast.owner)
    token.refresh_from_db()
    first = token.revoked_at
    token_revoke(token=token, by=cast.owner)
    token.refresh_from_db()
    assert token.revoked_at == first


def test_a_label_that_is_too_long_is_refused(cast):
    with pytest.raises(ValidationError):
        token_create(member=cast.owner, label="x" * 81)


@pytest.mark.parametrize("ends", [True, False])
def test_a_new_password_ends_ones_tokens_unless_the_tick_is_taken_away(cast, client_for, ends):
    client = client_for(cast.both_here)
    tokens = [
        token_create(member=member, label="x")[0] for member in (cast.both_here, cast.both_there)
    ]
    others, _ = token_create(member=cast.writer, label="x")
    form = client.get(PASSWORD_PAGE).context["form"]
    assert form["revoke_tokens"].value() is True
    asked = {"old_password": PASSWORD, **NEW} | ({"revoke_tokens": "on"} if ends else {})
    assert client.post(PASSWORD_PAGE, asked).status_code == 302
    for token in tokens:
        token.refresh_from_db()
        assert (token.revoked_at is not None) == ends
        assert token.revoked_by == (cast.both_here if ends else None)
    others.refresh_from_db()
    assert others.revoked_at is None


def test_who_has_no_live_token_is_not_asked_about_them(cast, client_for):
    token, _ = token_create(member=cast.writer, label="x")
    token_revoke(token=token, by=cast.writer)
    client = client_for(cast.writer)
    assert "revoke_tokens" not in client.get(PASSWORD_PAGE).context["form"].fields
    asked = {"old_password": PASSWORD, **NEW, "revoke_tokens": "on"}
    assert client.post(PASSWORD_PAGE, asked).status_code == 302


def test_a_wrong_old_password_ends_no_token(cast, client_for):
    token, _ = token_create(member=cast.writer, label="x")
    asked = {"old_password": "guess", **NEW, "revoke_tokens": "on"}
    assert client_for(cast.writer).post(PASSWORD_PAGE, asked).status_code == 200
    token.refresh_from_db()
    assert token.revoked_at is None


def test_a_password_from_the_owner_ends_the_persons_tokens(cast, client_for):
    token, _ = token_create(member=cast.mechanic, label="x")
    owners, _ = token_create(member=cast.owner, label="x")
    address = reverse("people:member-password", args=[cast.mechanic.pk])
    new = {"password": "feeler-gauge-08", "password_again": "feeler-gauge-08"}
    assert client_for(cast.owner).post(address, new).status_code == 302
    token.refresh_from_db()
    owners.refresh_from_db()
    assert token.revoked_by == cast.owner
    assert owners.revoked_at is None


def test_tokens_of_somebody_who_left_stay_dead_when_he_comes_back(cast):
    _, key = token_create(member=cast.mechanic, label="x")
    for active in (False, True):
        member_change(
            member=cast.mechanic,
            role=cast.mechanic.role,
            active=active,
            by=cast.owner,
            expected_version=cast.mechanic.version,
        )
    with pytest.raises(AuthenticationFailed):
        MemberTokenAuthentication().authenticate(_ask(f"Token {key}"))


def test_leaving_one_shop_keeps_the_tokens_of_the_other(cast):
    _, key = token_create(member=cast.both_there, label="x")
    member_change(
        member=cast.both_here,
        role=cast.both_here.role,
        active=False,
        by=cast.owner,
        expected_version=1,
    )
    assert MemberTokenAuthentication().authenticate(_ask(f"Token {key}")) is not None
